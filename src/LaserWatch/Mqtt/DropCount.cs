using System.Threading.Channels;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>Counts messages that were dropped, and says in the log when it begins and when it has ended.</summary>
/// <remarks>It has ended when nothing was dropped for a while: an inbox at its limit is full and not full many times a second.</remarks>
internal sealed class DropCount(TimeProvider time, ILogger logger)
{
    public static readonly TimeSpan Quiet = TimeSpan.FromSeconds(10);

    private readonly Lock _lock = new();
    private long _dropped;
    private long _lastDrop;
    private volatile bool _dropping;
    private Task<bool>? _room;

    public long Dropped => Volatile.Read(ref _dropped);

    /// <summary>A message found no room in the inbox. Where that is closed for a stop, nothing is amiss and nothing is counted.</summary>
    public void Drop(ChannelWriter<RawMessage> inbox)
    {
        lock (_lock)
        {
            // One waiter at a time, however many are dropped: the inbox tells in no other way that it is closed.
            if (_room is null or { IsCompleted: true })
                _room = inbox.WaitToWriteAsync().AsTask();
            if (_room is { IsCompletedSuccessfully: true, Result: false })
                return;

            _dropped++;
            _lastDrop = time.GetTimestamp();
            if (!_dropping)
                logger.InboxFull();
            _dropping = true;
        }
    }

    /// <summary>A message found room.</summary>
    public void Pass()
    {
        if (!_dropping)
            return;
        lock (_lock)
        {
            if (!_dropping || time.GetElapsedTime(_lastDrop) < Quiet)
                return;
            _dropping = false;
            logger.InboxHasRoom(_dropped);
        }
    }
}
