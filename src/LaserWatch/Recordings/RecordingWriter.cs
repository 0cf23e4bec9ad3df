using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Proof;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>What a recording holds, once it is written.</summary>
public sealed record RecordingExtent(long Samples, long Lines, int JobRecords, int JobRuns, int ServiceEvents, int Alarms, Instant? First, Instant? Last)
{
    /// <summary>True where nothing of the machine stands in it; job records alone belong to no machine.</summary>
    public bool IsEmpty => Samples == 0 && JobRuns == 0 && ServiceEvents == 0 && Alarms == 0;

    /// <summary>How far the proof at its end goes.</summary>
    public ProofExtent Proof { get; init; } = ProofExtent.None;
}

/// <summary>Writes a machine's time from the store as one recording.</summary>
/// <remarks>
/// Lines stand in time order; samples of one instant share a line. So that it can be replayed by itself it begins with all job
/// records up to its end, and with the start of a run that was under way at its beginning. The file appears only when it is whole.
/// </remarks>
public static class RecordingWriter
{
    /// <summary>How far back a run may have started that is still under way at the beginning.</summary>
    private static readonly TimeSpan LongestRun = TimeSpan.FromDays(2);

    private const int FlushAt = 1 << 16;

    /// <summary>Writes the recording; packed by gzip where the name ends in <c>.gz</c>. A file that is there already is replaced.</summary>
    /// <param name="from">Included.</param>
    /// <param name="to">Not included.</param>
    /// <exception cref="IOException">The file cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">The file may not be written.</exception>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static Task<RecordingExtent> WriteFileAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, string path, CancellationToken stop) =>
        WriteFileAsync(store, machine, from, to, path, null, stop);

    /// <inheritdoc cref="WriteFileAsync(ITelemetryStore, string, Instant, Instant, string, CancellationToken)"/>
    /// <param name="evidence">Where the log lies whose proof the recording is to end with; null: it carries none.</param>
    /// <exception cref="EvidenceException">The log cannot be read.</exception>
    public static Task<RecordingExtent> WriteFileAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, string path, EvidenceFolder? evidence, CancellationToken stop) =>
        WholeFile.WriteAsync(path, file => WriteAsync(store, machine, from, to, file, evidence, stop));

    /// <summary>Writes the lines to a stream.</summary>
    public static Task<RecordingExtent> WriteAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, Stream output, CancellationToken stop) =>
        WriteAsync(store, machine, from, to, output, null, stop);

    /// <summary>Writes the lines to a stream, and the proof where there is one.</summary>
    public static async Task<RecordingExtent> WriteAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, Stream output, EvidenceFolder? evidence, CancellationToken stop)
    {
        var records = (await store.ReadJobRecordsAsync(stop).ConfigureAwait(false)).Where(record => record.RecordedAt < to).ToList();
        var runs = await RunsAsync(store, machine, from, to, stop).ConfigureAwait(false);
        var services = await ServicesAsync(store, machine, from, to, evidence is null, stop).ConfigureAwait(false);
        var alarms = await store.ReadAlarmChangesAsync(machine, from, to, stop).ConfigureAwait(false);

        // The sort is stable: of one instant, what is known comes before what is begun, and what was said comes last.
        var events = new EventQueue([
            .. records.Select(record => (record.RecordedAt, 0, (Action<LineFormatter>)(lines => EventLines.Write(lines, record)))),
            .. services.Select(service => (service.At, 1, (Action<LineFormatter>)(lines => EventLines.Write(lines, service)))),
            .. runs.Select(run => (run.At, 2, (Action<LineFormatter>)(lines => EventLines.Write(lines, run)))),
            .. alarms.Select(alarm => (alarm.Time, 4, (Action<LineFormatter>)(lines => EventLines.Write(lines, alarm)))),
        ]);

        if (store.HoldsTraining)
            await output.WriteAsync(RecordingReader.TrainingMark.ToArray(), stop).ConfigureAwait(false);
        var lines = new LineFormatter();
        var (samples, telemetryLines) = (0L, 0L);
        Instant? lineAt = null;
        Instant? first = null;
        Instant? last = null;
        await foreach (var block in store.ReadSampleBlocksAsync(machine, null, from, to, new ChannelTable(), stop).ConfigureAwait(false))
        {
            WriteBlock(block.Span);
            if (lines.Written.Length < FlushAt)
                continue;
            await output.WriteAsync(lines.WrittenMemory, stop).ConfigureAwait(false);
            lines.ForgetWritten();
        }

        EndLine();
        events.WriteUntil(Instant.MaxValue, int.MaxValue, lines);
        await output.WriteAsync(lines.WrittenMemory, stop).ConfigureAwait(false);
        var underWay = runs is [var begun, ..] && begun.At < from ? begun : null;

        // Training data are evidence of nothing.
        var proof = evidence is null || store.HoldsTraining
            ? ProofExtent.None
            : await RecordingProof.WriteAsync(store, evidence, machine, from, to, underWay, output, stop).ConfigureAwait(false);
        return new RecordingExtent(
            samples, telemetryLines + events.Count, records.Count, runs.Count, services.Count, alarms.Count, first, last)
        { Proof = proof };

        void WriteBlock(ReadOnlySpan<Sample> block)
        {
            foreach (ref readonly var sample in block)
            {
                if (lineAt != sample.At)
                {
                    EndLine();
                    events.WriteUntil(sample.At, TelemetryRank, lines);
                    lines.Measurement(EventLines.Telemetry).Tag("machine", machine);
                    telemetryLines++;
                    lineAt = sample.At;
                    first ??= sample.At;
                    last = sample.At;
                }

                lines.Field(sample.Channel.Name, sample.Value);
            }

            samples += block.Length;
        }

        void EndLine()
        {
            if (lineAt is { } at)
                lines.Time(at);
        }
    }

    private const int TelemetryRank = 3;

    private static async Task<IReadOnlyList<JobEvent>> RunsAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, CancellationToken stop)
    {
        var within = await store.ReadJobRunsAsync(machine, from, to, stop).ConfigureAwait(false);
        var before = await store.ReadJobRunsAsync(machine, from - LongestRun, from, stop).ConfigureAwait(false);
        return before is [.., { Kind: JobEventKind.Start } underWay] ? [underWay, .. within] : within;
    }

    // A span that was annotated and is under way at the beginning is told there. With a proof it is not: its entry is of a day that the proof may not cover.
    private static async Task<IReadOnlyList<ServiceEvent>> ServicesAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, bool tellsSpanUnderWay, CancellationToken stop)
    {
        var within = await store.ReadServiceEventsAsync(machine, from, to, stop).ConfigureAwait(false);
        if (!tellsSpanUnderWay || from == Instant.MinValue)
            return within;
        var before = AnnotationBook.Of(await store.ReadServiceEventsAsync(machine, Instant.MinValue, from, stop).ConfigureAwait(false)).InForce;
        return [.. before.Where(a => a.Covers(from)).Select(a => a.ToEvent() with { At = from }), .. within];
    }

    /// <summary>Events in time order, written out as time comes to them.</summary>
    private sealed class EventQueue(IEnumerable<(Instant At, int Rank, Action<LineFormatter> Write)> events)
    {
        private readonly List<(Instant At, int Rank, Action<LineFormatter> Write)> _events = [.. events.OrderBy(e => e.At).ThenBy(e => e.Rank)];
        private int _next;

        public int Count => _events.Count;

        /// <summary>Writes the events before an instant, and those at it of a lower rank.</summary>
        public void WriteUntil(Instant at, int rank, LineFormatter lines)
        {
            while (_next < _events.Count && (_events[_next].At < at || (_events[_next].At == at && _events[_next].Rank < rank)))
                _events[_next++].Write(lines);
        }
    }
}
