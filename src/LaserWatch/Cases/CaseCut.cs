using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.History;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What to cut from a store for a case.</summary>
/// <param name="WatchFrom">Where the trainee begins to watch.</param>
/// <param name="To">Where the recording ends; not included.</param>
/// <param name="Around">The alarm that it is about; null: a span of time.</param>
/// <param name="History">Beam time to have before the watched part.</param>
/// <param name="MachineAs">What the machine is called in the case.</param>
/// <param name="KeepsAlarms">Keeps what was said then.</param>
internal sealed record CaseCut(
    string Machine, Instant WatchFrom, Instant To, AlarmChange? Around, TimeSpan History, string MachineAs, bool KeepsAlarms, bool WithoutNames)
{
    private static readonly TimeSpan Earlier = TimeSpan.FromMinutes(10);

    private Instant About => Around?.Time ?? WatchFrom + ((To - WatchFrom) / 2);

    /// <summary>Makes the folder.</summary>
    /// <exception cref="IOException">It is there already, or cannot be written, or there is nothing to write.</exception>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    /// <param name="model">The causes that a case may name.</param>
    public async Task<(CutRecording Recording, Instant From, TimeSpan Beam)> WriteAsync(
        ITelemetryStore store, CaseDraft draft, CauseModel model, string folder, CancellationToken stop)
    {
        CaseFolder.RefuseExisting(folder);
        var (from, beam) = await CaseHistory.BeginAsync(store, Machine, WatchFrom, History, stop).ConfigureAwait(false);
        var log = await store.ReadServiceEventsAsync(Machine, WatchFrom - CaseHistory.Furthest, To, stop).ConfigureAwait(false);
        var told = (draft with { WatchFrom = WatchFrom, Made = store.HoldsTraining ? CaseOrigin.Simulated : CaseOrigin.Recorded })
            .With(AnnotationBook.Of(log).InForce, About, cause => model.FindCause(cause) is not null);
        var disguise = WithoutNames ? new Disguise() : null;
        var raised = (await store.ReadAlarmChangesAsync(Machine, WatchFrom, To, stop).ConfigureAwait(false)).Where(change => change.State == AlarmState.Unacknowledged).ToList();
        var cut = await CaseFolder.WriteAsync(
            folder, told.Sheet(),
            async output =>
            {
                var written = await CaseRecording.WriteAsync(store, Machine, from, To, MachineAs, disguise, WatchFrom, KeepsAlarms, output, stop).ConfigureAwait(false);
                return written.Samples > 0 ? written : throw new IOException($"the store has no samples of {Machine} in that time");
            },
            (written, recording) => Notes(told, raised, written, recording)).ConfigureAwait(false);
        return (cut, from, beam);
    }

    private string Notes(CaseDraft draft, IReadOnlyList<AlarmChange> raised, CutRecording written, string recording)
    {
        // A while before, when it happened, and a while after: what changed stands there side by side.
        var middle = About;
        Instant[] looked = [.. new[] { middle - Earlier, middle, middle + TimeSpan.FromMinutes(5) }
            .Select(WholeMinute)
            .Where(minute => minute >= written.First && minute <= written.Last)
            .Distinct()];
        using var reader = RecordingReader.Open(recording, new ChannelTable());
        return draft.Notes(raised, looked, new MinuteReadings(looked).Read(reader));
    }

    private static Instant WholeMinute(Instant at) => new(at.UnixNanoseconds / 60_000_000_000 * 60_000_000_000);
}
