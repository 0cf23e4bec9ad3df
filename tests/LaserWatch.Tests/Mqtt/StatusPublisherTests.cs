using LaserWatch.Fakes;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Mqtt;

public sealed class StatusPublisherTests : IAsyncDisposable
{
    private static readonly Dictionary<string, long> None = [];

    private readonly FakeTimeProvider _time = new(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private readonly RememberingBrokerLink _link = new();
    private readonly LogLines<StatusPublisher> _log = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly StatusPublisher _publisher;
    private readonly Task _running;

    public StatusPublisherTests()
    {
        _publisher = new(_link, new Topics("laserwatch"), _time, _log);
        _running = _publisher.RunAsync(_stop.Token);
    }

    [Fact]
    public async Task A_status_tells_channels_rules_and_what_was_not_taken()
    {
        _publisher.Show(
            new MachineStatus(
                "bay1", "birch-6-cut", new Instant(1773043200000000000),
                [new("air_pressure", "kPa", new Instant(1773043201250000000), 209.4, null), new("coolant_in", "°C", new Instant(1773043201000000000), 18.5, "stuck")],
                [new("air-pressure-low", ["air_pressure"], []), new("condensation-risk", ["coolant_in"], ["ambient_humidity"])],
                new Dictionary<string, long> { ["late"] = 3 }),
            new Dictionary<string, long> { ["not_a_number"] = 2, ["malformed_json"] = 1 });
        await AfterAsync(1, published: 1);

        Assert.Equal(
            [(
                "laserwatch/bay1/status",
                """{"state":"online","machine":"bay1","job":"birch-6-cut","run_since":"2026-03-09T08:00:00Z","channels":{"air_pressure":{"value":209.4,"unit":"kPa","time":"2026-03-09T08:00:01.25Z"},"coolant_in":{"value":18.5,"unit":"°C","time":"2026-03-09T08:00:01Z","fault":"stuck"}},"rules":[{"rule":"air-pressure-low","sees":["air_pressure"],"lacks":[]},{"rule":"condensation-risk","sees":["coolant_in"],"lacks":["ambient_humidity"]}],"not_judged":{"late":3},"not_taken":{"malformed_json":1,"not_a_number":2},"dropped":0,"time":"2026-03-09T08:00:01Z"}""",
                true)],
            _link.Published);
        Assert.Equal(["bay1"], _link.Announced);
        SentKeys.HoldIn(_link.Published[0].Payload);
    }

    [Fact]
    public async Task What_changes_goes_out_every_ten_seconds_and_what_does_not_every_sixty()
    {
        Show(job: "a");
        await AfterAsync(1, published: 1);
        Show(job: "b");
        await AfterAsync(9, published: 1);
        await AfterAsync(1, published: 2);
        await AfterAsync(59, published: 2);
        await AfterAsync(1, published: 3);
    }

    [Fact]
    public async Task Of_a_large_shop_all_are_told_at_once_and_then_twenty_a_second_each_in_its_turn()
    {
        const int Machines = 600;
        var publisher = new StatusPublisher(_link, new Topics("laserwatch"), _time, _log);
        Assert.Equal(Machines, await PublishedAtAsync());
        for (var second = 1; second < 30; second++)
            Assert.Equal(0, await PublishedAtAsync());
        for (var second = 30; second < 90; second++)
            Assert.InRange(await PublishedAtAsync(), second < 54 ? 1 : 0, 25);
        Assert.All(_link.Published.GroupBy(p => p.Topic), ofOne => Assert.Equal(3, ofOne.Count()));

        async Task<int> PublishedAtAsync()
        {
            var before = _link.Published.Count;
            for (var i = 0; i < Machines; i++)
                publisher.Show(new MachineStatus($"bay{i}", $"{before}", null, [], [], None), None);
            await publisher.LookAsync(CancellationToken.None);
            _time.Advance(TimeSpan.FromSeconds(1));
            return _link.Published.Count - before;
        }
    }

    [Fact]
    public async Task After_a_new_connection_it_is_said_again_at_once()
    {
        Show(job: "a");
        await AfterAsync(1, published: 1);
        _link.Connections++;
        await AfterAsync(1, published: 2);
    }

    [Fact]
    public async Task It_is_wanted_shortly_before_it_may_go_out_and_not_again_until_then()
    {
        Assert.True(_publisher.IsWanted("bay1"));
        Show(job: "a");
        Assert.False(_publisher.IsWanted("bay1"));
        await AfterAsync(1, published: 1);
        await AfterAsync(7, published: 1);
        Assert.False(_publisher.IsWanted("bay1"));
        await AfterAsync(1, published: 1);
        await UntilWantedAsync();
        Show(job: "b");
        Assert.False(_publisher.IsWanted("bay1"));
        await AfterAsync(2, published: 2);
        Assert.False(_publisher.IsWanted("bay1"));
    }

    [Fact]
    public async Task Where_nothing_changes_or_nothing_can_go_out_it_is_wanted_every_five_seconds()
    {
        Show(job: "a");
        await AfterAsync(1, published: 1);
        await AfterAsync(8, published: 1);
        Show(job: "a");
        await AfterAsync(4, published: 1);
        Assert.False(_publisher.IsWanted("bay1"));
        await AfterAsync(1, published: 1);
        await UntilWantedAsync();

        _link.IsConnected = false;
        Show(job: "b");
        await AfterAsync(4, published: 1);
        Assert.False(_publisher.IsWanted("bay1"));
        await AfterAsync(1, published: 1);
        await UntilWantedAsync();
        Show(job: "c");
        (_link.IsConnected, _link.Connections) = (true, _link.Connections + 1);
        await AfterAsync(1, published: 2);
        Assert.Contains("\"job\":\"c\"", _link.Published[^1].Payload, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Without_a_connection_it_waits()
    {
        _link.IsConnected = false;
        Show(job: "a");
        await AfterAsync(30, published: 0);
        _link.IsConnected = true;
        await AfterAsync(1, published: 1);
        Assert.Empty(_log.All);
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _running);
        _stop.Dispose();
    }

    private Task UntilWantedAsync() => RealBroker.UntilAsync(() => _publisher.IsWanted("bay1"), "the status was not wanted");

    private void Show(string job) => _publisher.Show(new MachineStatus("bay1", job, null, [], [], None), None);

    /// <summary>Turns the clock second by second, leaving the publisher time to act on each.</summary>
    private async Task AfterAsync(int seconds, int published)
    {
        for (var i = 0; i < seconds; i++)
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            await Task.Delay(5);
        }

        await RealBroker.UntilAsync(() => _link.Published.Count >= published, $"{published} were not published");
        Assert.Equal(published, _link.Published.Count);
    }
}
