using System.Text;
using System.Threading.Channels;

namespace LaserWatch.Mqtt;

/// <summary>A link at work, with an inbox that the test empties.</summary>
public sealed class RunningLink : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _running;

    public RunningLink(IBrokerLink link, int inbox = 100_000)
    {
        Link = link;
        var channel = Channel.CreateBounded<RawMessage>(inbox);
        Inbox = channel.Reader;
        _running = link.RunAsync(channel, _stop.Token);
    }

    public IBrokerLink Link { get; }

    public ChannelReader<RawMessage> Inbox { get; }

    /// <summary>Ends when the link does; a link that cannot start fails here.</summary>
    public Task Running => _running;

    public static async Task<RunningLink> ConnectedAsync(IBrokerLink link, int inbox = 100_000)
    {
        var running = new RunningLink(link, inbox);
        await RealBroker.UntilAsync(() => link.IsConnected || running._running.IsCompleted, "the link is not connected");
        if (running._running.IsCompleted)
            await running._running;
        return running;
    }

    public async Task<RawMessage> NextAsync() => await Inbox.ReadAsync().AsTask().WaitAsync(TimeSpan.FromSeconds(20));

    public static string Text(RawMessage message) => Encoding.UTF8.GetString(message.Payload.Span);

    public async Task StopAsync()
    {
        await _stop.CancelAsync();
        await _running.WaitAsync(TimeSpan.FromSeconds(10));
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _running.WaitAsync(TimeSpan.FromSeconds(10)).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await Link.DisposeAsync();
        _stop.Dispose();
    }
}
