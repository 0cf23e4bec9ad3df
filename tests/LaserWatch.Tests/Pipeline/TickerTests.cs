using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Pipeline;

public class TickerTests
{
    [Fact]
    public async Task Each_second_is_a_message_in_the_queue()
    {
        var clock = new FakeTimeProvider(DateTimeOffset.UnixEpoch.AddSeconds(1_773_043_200));
        var start = Instant.From(clock.GetUtcNow());
        var inbox = System.Threading.Channels.Channel.CreateUnbounded<RawMessage>();
        using var stop = new CancellationTokenSource();
        using var ticker = new Ticker(clock);
        var running = ticker.RunAsync(inbox.Writer, stop.Token);

        var ticks = new List<RawMessage>();
        for (var i = 0; i < 3; i++)
        {
            clock.Advance(TimeSpan.FromSeconds(1));
            ticks.Add(await inbox.Reader.ReadAsync());
        }

        Assert.Equal([1, 2, 3], ticks.Select(t => (int)t.Arrival.SecondsSince(start)));
        Assert.All(ticks, t => Assert.True(Ticker.IsTick(t)));
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => running);
    }

    [Fact]
    public void No_message_from_the_wire_is_a_tick() =>
        Assert.False(Ticker.IsTick(new RawMessage("a", default, default, "", 0, false, false, null)));
}
