using System.Diagnostics.Metrics;
using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>How an alarm is counted while it stands.</summary>
public readonly record struct StandingAlarm(AlarmState State, AlarmPriority Priority);

/// <summary>What the agent counts of its own work.</summary>
/// <remarks>
/// Written by the pipeline, the writer's task and the worker, each its own fields; read by any thread. Counting allocates nothing, and
/// costs next to nothing while nobody listens to <see cref="Meter"/>.
/// </remarks>
public sealed class WatchFigures : IDisposable
{
    /// <summary>The meter's name, by which listeners find it.</summary>
    public const string MeterName = "LaserWatch";

    private static readonly int Priorities = Enum.GetValues<AlarmPriority>().Length;

    private readonly Histogram<double> _judgeLag;
    private readonly Histogram<double> _storeLag;
    private readonly long[] _standing = new long[Enum.GetValues<AlarmState>().Length * Priorities];
    private readonly long[] _annunciations = new long[Priorities];
    private long _messages;
    private long _judged;
    private long _stored;
    private long _gaps;
    private long _sealedDays;
    private long _beatAt;
    private long _beats;
    private int _watching;

    public WatchFigures()
    {
        Meter = new Meter(MeterName);
        var seconds = new InstrumentAdvice<double> { HistogramBucketBoundaries = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60, 300, 3600] };
        _judgeLag = Meter.CreateHistogram("laserwatch.sample.judge.lag", "s", "From a sample's own time until it was judged, the newest of each message", advice: seconds);
        _storeLag = Meter.CreateHistogram("laserwatch.sample.store.lag", "s", "From a sample's own time until it was stored, the oldest of each transaction", advice: seconds);
    }

    public Meter Meter { get; }

    /// <summary>Messages taken from the inbox, whatever became of them.</summary>
    public long Messages => Volatile.Read(ref _messages);

    /// <summary>Samples judged.</summary>
    public long Judgements => Volatile.Read(ref _judged);

    /// <summary>Samples the store has.</summary>
    public long Stored => Volatile.Read(ref _stored);

    /// <summary>Gaps stored since the start.</summary>
    public long Gaps => Volatile.Read(ref _gaps);

    /// <summary>Days sealed since the start, those sealed again among them.</summary>
    public long SealedDays => Volatile.Read(ref _sealedDays);

    /// <summary>Ticks the pipeline has handled.</summary>
    public long Beats => Volatile.Read(ref _beats);

    /// <summary>The monotonic time stamp of the last tick handled.</summary>
    public long BeatAt => Volatile.Read(ref _beatAt);

    /// <summary>True once the watch was taken up and messages are judged.</summary>
    public bool IsWatching
    {
        get => Volatile.Read(ref _watching) != 0;
        set => Volatile.Write(ref _watching, value ? 1 : 0);
    }

    public long Standing(AlarmState state, AlarmPriority priority) => Volatile.Read(ref _standing[Place(state, priority)]);

    public long Annunciations(AlarmPriority priority) => Volatile.Read(ref _annunciations[(int)priority]);

    public void CountMessage() => Volatile.Write(ref _messages, _messages + 1);

    public void Judged(int samples, Instant newest, Instant now)
    {
        if (samples == 0)
            return;
        Volatile.Write(ref _judged, _judged + samples);
        if (_judgeLag.Enabled)
            _judgeLag.Record(Math.Max(0, now.SecondsSince(newest)));
    }

    public void CountAnnounced(AlarmChange change)
    {
        if (change.State == AlarmState.Unacknowledged)
            Interlocked.Increment(ref _annunciations[(int)change.Priority]);
    }

    /// <summary>Counts a machine's standing alarms in the place of those counted before.</summary>
    /// <param name="counted">What was counted of the machine; becomes what is now.</param>
    public void ShowStanding(List<StandingAlarm> counted, IReadOnlyList<AlarmChange> standing)
    {
        foreach (var alarm in counted)
            Interlocked.Decrement(ref _standing[Place(alarm.State, alarm.Priority)]);
        counted.Clear();
        foreach (var change in standing)
        {
            counted.Add(new(change.State, change.Priority));
            Interlocked.Increment(ref _standing[Place(change.State, change.Priority)]);
        }
    }

    public void CountStored(StoreBatch batch, Instant now)
    {
        Interlocked.Add(ref _stored, batch.Samples.Count);
        Interlocked.Add(ref _gaps, batch.Gaps.Count);
        if (!_storeLag.Enabled || batch.Samples.Count == 0)
            return;
        var oldest = Instant.MaxValue;
        foreach (var (_, sample) in batch.Samples)
        {
            if (sample.At < oldest)
                oldest = sample.At;
        }

        _storeLag.Record(Math.Max(0, now.SecondsSince(oldest)));
    }

    public void CountSealed(int days) => Interlocked.Add(ref _sealedDays, days);

    /// <summary>The pipeline has handled a tick.</summary>
    /// <param name="timestamp">The monotonic time.</param>
    public void Beat(long timestamp)
    {
        Volatile.Write(ref _beatAt, timestamp);
        Volatile.Write(ref _beats, _beats + 1);
    }

    public void Dispose() => Meter.Dispose();

    private static int Place(AlarmState state, AlarmPriority priority) => ((int)state * Priorities) + (int)priority;
}
