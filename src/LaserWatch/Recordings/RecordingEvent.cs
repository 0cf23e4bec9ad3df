using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public enum RecordingEventKind
{
    Telemetry,
    JobRecord,
    JobRun,
    Service,

    /// <summary>What was said when the recording was made; not judged.</summary>
    Alarm,
}

/// <summary>What one line of a recording says. The reader's own, and reused: good until the next one is read.</summary>
public sealed class RecordingEvent
{
    private ChannelValue[] _values = new ChannelValue[16];
    private int _count;

    public RecordingEventKind Kind { get; internal set; }

    public Instant At { get; internal set; }

    /// <summary>The line it stood on, from 1.</summary>
    public long Line { get; internal set; }

    /// <summary>Empty for a job record, which belongs to no machine.</summary>
    public string Machine { get; internal set; } = "";

    /// <summary>Of telemetry: the values of the line, all finite.</summary>
    public ReadOnlySpan<ChannelValue> Values => _values.AsSpan(0, _count);

    public JobRecord? JobRecord { get; internal set; }

    public JobEvent? JobRun { get; internal set; }

    public ServiceEvent? Service { get; internal set; }

    public AlarmChange? Alarm { get; internal set; }

    internal void Add(Channel channel, double value)
    {
        if (_count == _values.Length)
            Array.Resize(ref _values, 2 * _count);
        _values[_count++] = new ChannelValue(channel, value);
    }

    internal void ForgetValues() => _count = 0;

    internal void Clear()
    {
        _count = 0;
        Kind = RecordingEventKind.Telemetry;
        Machine = "";
        JobRecord = null;
        JobRun = null;
        Service = null;
        Alarm = null;
    }
}
