using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Pipeline;

public sealed class FloodTellerTests : IAsyncDisposable
{
    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private readonly RememberingBrokerLink _link = new();
    private readonly LogLines<FloodTeller> _log = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly Shop _shop = new(_ => MonitorOptions.Default, new JobBook());
    private readonly StatusPublisher _status;
    private readonly FloodTeller _teller;
    private readonly Task _running;

    public FloodTellerTests()
    {
        _status = new(_link, new Topics("laserwatch"), _time, new LogLines<StatusPublisher>());
        _teller = new(new FloodOptions { StartsAt = 3, EndsBelow = 2 }, _shop, _status, _log);
        _running = _status.RunAsync(_stop.Token);
        for (var i = 1; i <= 4; i++)
            _shop.Find($"bay{i}");
    }

    [Fact]
    public void A_flood_its_common_cause_and_its_end_are_each_logged_once()
    {
        _teller.Observe(Lost("bay1", 0));
        _teller.Observe(Raised("bay1", Conditions.TubeLife, 1));
        _teller.Tick(At(1));
        Assert.Empty(_log.All);
        _teller.Observe(Lost("bay2", 1));
        _teller.Observe(Lost("bay3", 2));
        _teller.Tick(At(2));
        _teller.Observe(Lost("bay3", 2) with { State = AlarmState.Acknowledged });
        _teller.Tick(At(3));
        _teller.Tick(At(30));
        _teller.Tick(At(31));

        Assert.Equal(
            [
                "A flood of alarms: 3 within 10 minutes. Root causes first: bay1 air-pressure-lost, bay1 tube-life, bay2 air-pressure-lost",
                "The alarms may have a cause in common: air pressure lost or low on 3 of 4 machines (bay1, bay2, bay3) at about one time: look at the shared compressor or air supply first",
                "The flood of alarms is over, 4 in all: fewer than 2 within 10 minutes",
            ],
            _log.All.Select(l => l.Text));
    }

    [Fact]
    public void What_two_machines_have_in_common_is_told_without_a_flood_too_and_again_once_it_was_gone()
    {
        _teller.Observe(Lost("bay1", 0));
        _teller.Observe(Lost("bay2", 1));
        _teller.Tick(At(2));
        _teller.Observe(Lost("bay2", 3) with { State = AlarmState.Acknowledged });
        _teller.Tick(At(3));
        Assert.Single(_log.All);

        _teller.Observe(Lost("bay2", 20) with { State = AlarmState.Normal });
        _teller.Tick(At(20));
        _teller.Observe(Lost("bay1", 40));
        _teller.Observe(Lost("bay2", 41));
        _teller.Tick(At(41));
        Assert.Equal(2, _log.All.Count);
    }

    [Fact]
    public async Task The_agents_topic_holds_whether_there_is_a_flood_also_after_a_new_connection()
    {
        _teller.Recall([], At(0));
        await HoldsAsync("""{"flood":false,"since":null,"annunciations":0,"common_causes":[],"roots_first":[]}""", 1);

        foreach (var (machine, minute) in new[] { ("bay1", 0), ("bay1", 1), ("bay1", 2) })
            _teller.Observe(Raised(machine, minute == 1 ? Conditions.CoolantFlowLow : Conditions.CoolantHot, minute));
        _teller.Tick(At(2));
        const string Flood =
            """{"flood":true,"since":"2026-03-09T08:02:00Z","annunciations":3,"common_causes":[],"roots_first":[{"time":"2026-03-09T08:01:00Z","machine":"bay1","condition":"coolant-flow-low","priority":"medium","explained_by":null},{"time":"2026-03-09T08:02:00Z","machine":"bay1","condition":"coolant-hot","priority":"medium","explained_by":"coolant-flow-low"}]}""";
        SentKeys.HoldIn(Flood);
        await HoldsAsync(Flood, 2);
        _link.Connections++;
        await HoldsAsync(Flood, 3);
    }

    [Fact]
    public void A_flood_and_a_common_cause_before_the_restart_are_not_told_again()
    {
        _teller.Recall([Lost("bay1", 0), Lost("bay2", 1), Lost("bay3", 2)], At(3));
        _teller.Observe(Lost("bay4", 4));
        _teller.Tick(At(4));
        Assert.Empty(_log.All);
        _teller.Tick(At(30));
        Assert.Single(_log.All);
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _running);
        _stop.Dispose();
    }

    private async Task HoldsAsync(string body, int published)
    {
        for (var i = 0; i < 500 && _link.Published.Count < published; i++)
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            await Task.Delay(5);
        }

        var (topic, payload, retain) = _link.Published[^1];
        Assert.Equal((published, "laserwatch/_agent/flood", body, true), (_link.Published.Count, topic, payload, retain));
    }

    private static AlarmChange Lost(string machine, double minutes) => Raised(machine, Conditions.AirPressureLost, minutes);

    private static AlarmChange Raised(string machine, string condition, double minutes) => FloodWatchTests.Raised(machine, condition, minutes);

    private static Instant At(double minutes) => FloodWatchTests.At(minutes);
}
