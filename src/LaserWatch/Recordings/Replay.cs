using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Plays a recording through the watch: the same code that watches live, with the recording's own time.</summary>
/// <remarks>How time passes in it, and what is not played: see <see cref="ReplayStage"/>.</remarks>
public sealed class Replay
{
    private const int EventsBetweenProgress = 4096;

    private readonly RecordingReader _reader;
    private readonly ReplayStage _stage;

    public Replay(RecordingReader reader, Shop shop, Action<AlarmChange> onAlarm)
    {
        _reader = reader;
        _stage = new ReplayStage(
            shop,
            change =>
            {
                onAlarm(change);
                Import?.Told(change);
            },
            runs => Import?.Inferred(runs));
    }

    public RecordingCounts Counts => _reader.Counts;

    /// <summary>Where to stop: what comes after is not played. Null: at the end.</summary>
    public Instant? Until { get; init; }

    /// <summary>Takes all that is played, and what comes of it; null: nothing is kept.</summary>
    public RecordingImport? Import { get; init; }

    public Instant? First => _stage.First;

    public Instant? Last => _stage.Last;

    /// <inheritdoc cref="ReplayStage.NotWatched"/>
    public long NotWatched => _stage.NotWatched;

    /// <inheritdoc cref="ReplayStage.InferredRuns"/>
    public long InferredRuns => _stage.InferredRuns;

    public IReadOnlyList<MachineWatch> Machines => _stage.Machines;

    /// <summary>Plays to the end.</summary>
    /// <param name="pace">Null: as fast as it can.</param>
    /// <param name="onProgress">Called now and then, on the same thread.</param>
    /// <exception cref="IOException">The recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">Its compression is damaged.</exception>
    /// <exception cref="Storage.StoreException">The store of <see cref="Import"/> cannot take it.</exception>
    public async Task RunAsync(ReplayPace? pace, Action? onProgress, CancellationToken stop)
    {
        if (pace is null && Import is null)
            PlayAtOnce(onProgress, stop);
        else
            await PlayInStepsAsync(pace, onProgress, stop).ConfigureAwait(false);
        _stage.End();
        onProgress?.Invoke();
    }

    private async Task PlayInStepsAsync(ReplayPace? pace, Action? onProgress, CancellationToken stop)
    {
        var untilProgress = EventsBetweenProgress;
        while (Next() is { } e)
        {
            if (pace is not null)
                await pace.WaitUntilAsync(e.At, _stage.PassTime, onProgress, stop).ConfigureAwait(false);
            _stage.Play(e);
            if (Import is not null)
                await Import.TakeAsync(e, stop).ConfigureAwait(false);
            Progress(ref untilProgress, onProgress, stop);
        }
    }

    // Where nothing is waited for: a loop that may wait keeps all it knows in the memory.
    private void PlayAtOnce(Action? onProgress, CancellationToken stop)
    {
        var untilProgress = EventsBetweenProgress;
        while (Next() is { } e)
        {
            _stage.Play(e);
            Progress(ref untilProgress, onProgress, stop);
        }
    }

    private RecordingEvent? Next() =>
        _reader.Read() is { } e && !(e.Kind is not (RecordingEventKind.JobRecord or RecordingEventKind.Alarm) && e.At > Until) ? e : null;

    private static void Progress(ref int untilProgress, Action? onProgress, CancellationToken stop)
    {
        if (--untilProgress > 0)
            return;
        untilProgress = EventsBetweenProgress;
        stop.ThrowIfCancellationRequested();
        onProgress?.Invoke();
    }
}
