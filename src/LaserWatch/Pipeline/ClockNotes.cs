using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Tells of the clock's jumps, in the log and as a gap: at most once a minute, or a clock gone mad would fill the disk.</summary>
/// <remarks>The gap spans the times that are doubtful: left out where the clock was set forward, lived twice where it was set back.</remarks>
internal sealed class ClockNotes(ILogger logger)
{
    private static readonly TimeSpan Pause = TimeSpan.FromMinutes(1);

    private Instant _from;
    private Instant _to;
    private TimeSpan _by;
    private int _count;
    private Instant? _told;

    public void Add(in ClockJump jump)
    {
        var (from, to) = jump.By < TimeSpan.Zero ? (jump.After, jump.Before) : (jump.Before, jump.After);
        _from = _count == 0 || from < _from ? from : _from;
        _to = _count == 0 || to > _to ? to : _to;
        _by += jump.By;
        _count++;
        if (_told is not null)
            _told += jump.By; // by the new time
    }

    /// <summary>What is to be stored of the jumps since the last note, for each machine; null: nothing, or not yet.</summary>
    public Gap? Take(Instant now)
    {
        if (_count == 0 || now - _told < Pause)
            return null;
        var words = Words(_by, _count);
        logger.ClockJumped(words, _from.ToString(), _to.ToString());
        var note = new Gap("", _from, _to, "the agent's clock was " + words, 0);
        (_by, _count, _told) = (TimeSpan.Zero, 0, now);
        return note;
    }

    internal static string Words(TimeSpan by, int count)
    {
        var once = by < TimeSpan.Zero ? $"set back by {DurationWords.Of(by)}" : $"set forward by {DurationWords.Of(by)}";
        return count == 1 ? once : $"set {count} times within a minute, in all " + once["set ".Length..];
    }
}
