using LaserWatch.Fakes;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Alarms;

public class AlarmOutboxTests
{
    private static readonly RetryPolicy ThreeAttempts = new(TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(10), Attempts: 3);

    private readonly FakeTimeProvider _time = new();
    private readonly CollectingAlarmSink _sink = new();
    private readonly LogLines<AlarmOutbox> _log = new();

    [Fact]
    public async Task Transitions_are_delivered_in_order_and_restated_ones_are_marked()
    {
        await using var outbox = Outbox();
        outbox.Restate(Change("coolant-hot", AlarmState.Acknowledged));
        outbox.Post(Change("coolant-hot", AlarmState.Normal));
        outbox.Post(Change("coolant-cold", AlarmState.Unacknowledged));

        Assert.True(await outbox.CompleteAsync(TimeSpan.FromSeconds(10)));
        Assert.Equal(
            ["coolant-hot acknowledged True", "coolant-hot normal False", "coolant-cold unacknowledged False"], Delivered());
    }

    [Fact]
    public async Task What_waits_while_the_sink_is_down_all_goes_out_in_order_when_it_is_back_and_the_log_tells_twice()
    {
        _sink.Down = true;
        await using var outbox = Outbox();
        outbox.Post(Change("coolant-hot", AlarmState.Unacknowledged));
        await RealBroker.UntilAsync(() => _log.All.Any(), "the failure was not logged"); // it tells how many wait
        outbox.Post(Change("coolant-hot", AlarmState.Acknowledged));
        await LaterAsync(TimeSpan.FromSeconds(1), attempts: 2);
        _sink.Down = false;
        await LaterAsync(TimeSpan.FromSeconds(2), attempts: 4);

        Assert.True(await outbox.CompleteAsync(TimeSpan.FromSeconds(10)));
        Assert.Equal(["coolant-hot unacknowledged False", "coolant-hot acknowledged False"], Delivered());
        Assert.Equal(
            ["Alarms cannot be delivered to test: down. They wait, 1 so far; tried again", "Alarms are delivered to test again, after 2 failed attempts"],
            _log.All.Select(l => l.Text));
    }

    [Fact]
    public async Task When_there_is_no_room_an_overtaken_transition_goes_and_the_newest_state_of_each_alarm_stays()
    {
        _sink.Down = true;
        await using var outbox = Outbox(mostWaiting: 3);
        Assert.True(outbox.Post(Change("coolant-hot", AlarmState.Unacknowledged)));
        Assert.True(outbox.Post(Change("coolant-cold", AlarmState.Unacknowledged)));
        Assert.True(outbox.Post(Change("coolant-hot", AlarmState.Acknowledged)));
        Assert.True(outbox.Post(Change("coolant-cold", AlarmState.Acknowledged)));
        Assert.True(outbox.Post(Change("tube-life", AlarmState.Unacknowledged)));
        Assert.False(outbox.Post(Change("service-due", AlarmState.Unacknowledged)));
        _sink.Down = false;

        Assert.True(await outbox.CompleteAsync(TimeSpan.FromSeconds(10)));
        Assert.Equal(
            ["coolant-hot acknowledged False", "coolant-cold acknowledged False", "tube-life unacknowledged False"], Delivered());
    }

    [Fact]
    public async Task After_its_attempts_a_transition_is_given_up_with_a_line_and_the_next_has_its_own_attempts()
    {
        _sink.Down = true;
        await using var outbox = Outbox(ThreeAttempts);
        outbox.Post(Change("coolant-hot", AlarmState.Unacknowledged));
        outbox.Post(Change("coolant-cold", AlarmState.Unacknowledged));
        await AttemptsAsync(1);
        await LaterAsync(TimeSpan.FromSeconds(1), attempts: 2);

        // The third fails, and the first attempt of the next follows at once.
        await LaterAsync(TimeSpan.FromSeconds(2), attempts: 4);
        _sink.Down = false;
        await LaterAsync(TimeSpan.FromSeconds(1), attempts: 5);

        Assert.Equal(["coolant-cold unacknowledged False"], Delivered());
        Assert.Contains("The alarm coolant-hot of bay1 (unacknowledged) was given up by test: down", _log.Warnings);
    }

    [Fact]
    public async Task A_stop_while_the_sink_is_down_tries_once_more_and_says_what_is_left()
    {
        _sink.Down = true;
        await using var outbox = Outbox();
        outbox.Post(Change("coolant-hot", AlarmState.Unacknowledged));
        outbox.Post(Change("coolant-cold", AlarmState.Unacknowledged));
        await AttemptsAsync(1);

        Assert.False(await outbox.CompleteAsync(TimeSpan.FromSeconds(10)));
        Assert.Equal(2, _sink.Attempts);
        Assert.Equal("2 alarm transitions were not delivered to test before the stop", _log.Warnings[^1]);
        Assert.False(outbox.Post(Change("tube-life", AlarmState.Unacknowledged)));
    }

    private static AlarmChange Change(string condition, AlarmState state) =>
        new(new Instant(1), "bay1", condition, state, AlarmPriority.High, null, null, "", null, "", [], []);

    private AlarmOutbox Outbox(RetryPolicy? policy = null, int mostWaiting = 100) => new(_sink, policy ?? RetryPolicy.Forever, mostWaiting, _time, _log);

    private IEnumerable<string> Delivered() => _sink.Delivered.Select(d => $"{d.Change.Condition} {d.Change.State.Name()} {d.Restated}");

    private Task AttemptsAsync(int attempts) => RealBroker.UntilAsync(() => _sink.Attempts >= attempts, $"{attempts} attempts were not made");

    /// <summary>Turns the clock until the attempts are made: the wait may begin a little after the attempt before.</summary>
    private Task LaterAsync(TimeSpan by, int attempts) => RealBroker.UntilAsync(
        () =>
        {
            if (_sink.Attempts >= attempts)
                return true;
            _time.Advance(by);
            return false;
        },
        $"{attempts} attempts were not made");
}
