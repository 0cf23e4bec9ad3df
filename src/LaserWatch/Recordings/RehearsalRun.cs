using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Plays recordings through the rules of several configurations in one reading: all meet the same events at the same time.</summary>
public sealed class RehearsalRun(IReadOnlyList<RecordingReader> readers, IReadOnlyList<RehearsedRules> rules)
{
    private const int EventsBetweenProgress = 4096;
    private const long NanosecondsPerDay = 86_400_000_000_000;

    private readonly HashSet<long> _days = [];
    private readonly HashSet<string> _machines = new(StringComparer.Ordinal);
    private readonly List<ServiceEvent> _services = [];

    /// <summary>What comes before is not played, but for job records and services: they are known then.</summary>
    public Instant From { get; init; } = Instant.MinValue;

    /// <summary>What comes at it or after is not played.</summary>
    public Instant To { get; init; } = Instant.MaxValue;

    /// <summary>Samples that were played.</summary>
    public long Samples { get; private set; }

    /// <summary>UTC days with a sample.</summary>
    public int Days => _days.Count;

    public Instant? First => rules[0].Stage.First;

    public Instant? Last => rules[0].Stage.Last;

    public IReadOnlyCollection<string> Machines => _machines;

    public IReadOnlyList<ServiceEvent> Services => _services;

    /// <param name="onProgress">Called now and then, on the same thread.</param>
    /// <exception cref="IOException">A recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">A recording's compression is damaged, or it breaks off.</exception>
    /// <exception cref="Storage.StoreException">The store behind a recording cannot be read on.</exception>
    public void Play(Action? onProgress, CancellationToken stop)
    {
        var merged = new MergedRecordings(readers);
        var untilProgress = EventsBetweenProgress;
        while (merged.Read() is { } e)
        {
            if (Wants(e))
                Play(e);
            if (--untilProgress > 0)
                continue;
            untilProgress = EventsBetweenProgress;
            stop.ThrowIfCancellationRequested();
            onProgress?.Invoke();
        }

        foreach (var side in rules)
            side.Stage.End();
        onProgress?.Invoke();
    }

    private bool Wants(RecordingEvent e) => e.Kind switch
    {
        RecordingEventKind.JobRecord => true,
        RecordingEventKind.Alarm => false,
        RecordingEventKind.Service => e.At < To,
        _ => e.At >= From && e.At < To,
    };

    private void Play(RecordingEvent e)
    {
        if (e.Kind == RecordingEventKind.Telemetry)
        {
            Samples += e.Values.Length;
            _days.Add(Math.DivRem(e.At.UnixNanoseconds, NanosecondsPerDay, out var rest) - (rest < 0 ? 1 : 0));
        }

        if (e.Machine.Length > 0)
            _machines.Add(e.Machine);
        if (e.Service is { } service)
            _services.Add(service);
        foreach (var side in rules)
            side.Stage.Play(e);
    }
}
