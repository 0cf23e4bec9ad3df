using System.Threading.Channels;

namespace LaserWatch.Mqtt;

/// <summary>Holds up the reading from a socket for a moment while much waits to be judged, so that a burst is not dropped at the inbox.</summary>
/// <remarks>
/// The other end then waits too: TCP sees to it. But nobody is held up for longer than <see cref="Patience"/>: keep-alives come the same
/// way, and where the watch itself stands still it is better that messages are dropped and counted. Safe for several threads.
/// </remarks>
internal sealed class InboxGate(ChannelReader<RawMessage> inbox, TimeProvider time)
{
    /// <summary>Messages in the inbox beyond which it waits; an inbox holds some times as many, since what was read before still comes.</summary>
    public const int Crowd = 8192;

    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(2);

    private bool _gaveUp;

    public ValueTask PassAsync(CancellationToken stop)
    {
        if (inbox.Count <= Crowd)
        {
            _gaveUp = false;
            return ValueTask.CompletedTask;
        }

        return _gaveUp ? ValueTask.CompletedTask : WaitAsync(stop);
    }

    private async ValueTask WaitAsync(CancellationToken stop)
    {
        var since = time.GetTimestamp();
        while (inbox.Count > Crowd)
        {
            if (time.GetElapsedTime(since) >= Patience)
            {
                _gaveUp = true;
                return;
            }

            await Task.Delay(Look, time, stop);
        }
    }
}
