using LaserWatch.Payloads;

namespace LaserWatch.Recordings;

/// <summary>A line that could not be read.</summary>
/// <param name="Line">Its number in the recording, from 1.</param>
/// <param name="Mistake">What is wrong, to be read after "line 12 ".</param>
public sealed record UnreadLine(long Line, string Mistake)
{
    public override string ToString() => $"line {Line} {Mistake}";
}

/// <summary>What a reader has met so far.</summary>
public sealed class RecordingCounts
{
    /// <summary>Unread lines that are kept with their mistake; the others are only counted.</summary>
    public const int MostShown = 20;

    private const int MostWords = 300;

    private readonly List<UnreadLine> _firstUnread = [];

    /// <summary>All lines, also blank ones and comments.</summary>
    public long Lines { get; internal set; }

    public long TelemetryLines { get; internal set; }

    public long Samples { get; internal set; }

    public long JobRecords { get; internal set; }

    public long JobRuns { get; internal set; }

    public long ServiceEvents { get; internal set; }

    public long AlarmLines { get; internal set; }

    /// <summary>Lines that could not be read, and were skipped.</summary>
    public long Unread { get; internal set; }

    /// <summary>Telemetry fields whose value is not a finite number.</summary>
    public long NotNumbers { get; internal set; }

    /// <summary>Telemetry fields whose name is no channel's, or one channel too many.</summary>
    public long UnknownChannels { get; internal set; }

    /// <summary>Lines of measurements that a recording does not have.</summary>
    public long UnknownMeasurements { get; internal set; }

    /// <summary>Lines that stood after a newer one.</summary>
    public long OutOfOrder { get; internal set; }

    public IReadOnlyList<UnreadLine> FirstUnread => _firstUnread;

    internal void CountUnread(long line, string mistake)
    {
        Unread++;
        if (_firstUnread.Count < MostShown)
            _firstUnread.Add(new UnreadLine(line, PayloadText.Clean(mistake, MostWords)));
    }
}
