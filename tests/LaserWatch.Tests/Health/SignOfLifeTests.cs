using System.Net;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class SignOfLifeTests : IDisposable
{
    private readonly LoopbackReceiver _receiver = new();
    private readonly CollectingLogger<SignOfLife> _log = new();

    [Theory]
    [InlineData(SignOfLifeMethod.Get, "GET")]
    [InlineData(SignOfLifeMethod.Head, "HEAD")]
    [InlineData(SignOfLifeMethod.Post, "POST")]
    public async Task The_address_is_asked_at_the_start_and_at_every_interval(SignOfLifeMethod method, string wire)
    {
        await using var bench = Bench(method);
        await using var running = new Running(Make(bench)).Begin();
        await HeardAsync(1);
        bench.Beat();
        bench.Advance(20);
        await HeardAsync(2);

        Assert.All(_receiver.Requests, request => Assert.Equal((wire, "/shop", 0), (request.Method, request.Path, request.Body.Length)));
        Assert.Empty(_log.Ids);
    }

    [Fact]
    public async Task While_the_pipeline_is_stuck_no_ping_goes_out()
    {
        await using var bench = Bench();
        await using var running = new Running(Make(bench)).Begin();
        await HeardAsync(1);
        bench.Advance(20); // asked once more: not stuck yet
        await HeardAsync(2);
        bench.Advance(20);
        await RealBroker.UntilAsync(() => _log.Ids.Contains(607), "it is not said that the agent is not ready");
        bench.Advance(20);
        bench.Advance(20);
        Assert.Equal(2, _receiver.Requests.Count);

        bench.Beat();
        bench.Advance(20);
        await HeardAsync(3);
        Assert.Equal([607, 608], _log.Ids);
    }

    [Fact]
    public async Task While_the_store_takes_nothing_no_ping_goes_out()
    {
        await using var bench = Bench();
        bench.Store.Fault = new IOException("disk full");
        bench.Store1();
        await RealBroker.UntilAsync(() => bench.Writer.IsStoreFailing, "the store does not fail");
        await using var running = new Running(Make(bench)).Begin();
        await PassAsync(bench, () => _log.Ids.Contains(607), "it is not said that the agent is not ready");
        Assert.Empty(_receiver.Requests);

        bench.Store.Fault = null;
        await PassAsync(bench, () => _receiver.Requests.Count > 0, "no sign of life comes when the store works again");
        Assert.Equal([607, 608], _log.Ids);
    }

    [Fact]
    public async Task Failures_are_said_when_they_begin_and_when_they_end()
    {
        _receiver.Answer = HttpStatusCode.InternalServerError;
        await using var bench = Bench();
        await using var running = new Running(Make(bench)).Begin();
        for (var asked = 1; asked <= 3; asked++)
        {
            await HeardAsync(asked);
            await RealBroker.UntilAsync(() => _log.Ids.Count == 1, "the failure is not said, or too often");
            bench.Beat();
            if (asked < 3)
                bench.Advance(20);
        }

        _receiver.Answer = HttpStatusCode.NoContent;
        bench.Advance(20);
        await RealBroker.UntilAsync(() => _log.Ids.Count == 2, "it is not said that the sign of life goes through again");
        Assert.Equal([605, 606], _log.Ids);
    }

    [Fact]
    public async Task An_agent_that_is_only_starting_is_not_called_unready_and_pings_as_soon_as_it_is_ready()
    {
        await using var bench = Bench();
        bench.Figures.IsWatching = false;
        await using var running = new Running(Make(bench)).Begin();
        for (var second = 0; second < 10; second++)
        {
            bench.Beat();
            bench.Advance(1);
        }

        Assert.Empty(_receiver.Requests);
        bench.Figures.IsWatching = true;
        await PassAsync(bench, () => _receiver.Requests.Count > 0, "no sign of life comes when all of the agent works");
        Assert.Empty(_log.Ids);
    }

    public void Dispose() => _receiver.Dispose();

    private HealthBench Bench(SignOfLifeMethod method = SignOfLifeMethod.Get) =>
        new(new HealthOptions { SignOfLife = new SignOfLifeOptions { Url = _receiver.Address + "/shop", Method = method, EverySeconds = 20 } });

    private SignOfLife Make(HealthBench bench) => new(bench.Condition, bench.Options, bench.Wall, _log);

    private Task HeardAsync(int signs) => RealBroker.UntilAsync(() => _receiver.Requests.Count >= signs, $"sign {signs} is not heard");

    private static Task PassAsync(HealthBench bench, Func<bool> until, string what) => RealBroker.UntilAsync(
        () =>
        {
            bench.Beat();
            bench.Advance(1);
            return until();
        },
        what);

    private sealed class Running(SignOfLife signOfLife) : IAsyncDisposable
    {
        private readonly CancellationTokenSource _stop = new();
        private Task? _running;

        public Running Begin()
        {
            _running = signOfLife.RunAsync(_stop.Token);
            return this;
        }

        public async ValueTask DisposeAsync()
        {
            await _stop.CancelAsync();
            await _running!.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            _stop.Dispose();
        }
    }
}
