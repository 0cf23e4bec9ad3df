using LaserWatch.History;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What was cut for a case.</summary>
/// <param name="Jobs">The jobs whose records or runs stand in it, by name.</param>
internal sealed record CutRecording(long Samples, int Runs, int Services, int Alarms, Instant? First, Instant? Last, IReadOnlyList<string> Jobs);

/// <summary>Cuts a recording for a case out of the store: one machine, perhaps under another name, perhaps without people's names.</summary>
internal static class CaseRecording
{
    /// <summary>Writes the lines, and returns what they hold. The proof of integrity is left out: it would no longer fit.</summary>
    /// <param name="machineAs">What the machine is called in the case.</param>
    /// <param name="disguise">Null: people's names stay.</param>
    /// <param name="answersFrom">What people said of the time after it, as annotations, is left out: it is the answer.</param>
    /// <param name="alarms">Keeps what was said, and by whom it was acknowledged. Nothing that plays a case needs it.</param>
    public static async Task<CutRecording> WriteAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, string machineAs, Disguise? disguise, Instant answersFrom, bool alarms, Stream output, CancellationToken stop)
    {
        // Through a file: what the store holds may be more than memory.
        var whole = new FileStream(
            Path.Combine(Path.GetTempPath(), "laserwatch-case-" + Path.GetRandomFileName()), FileMode.CreateNew, FileAccess.ReadWrite, FileShare.None, 1 << 16, FileOptions.DeleteOnClose);
        await using (whole.ConfigureAwait(false))
        {
            await RecordingWriter.WriteAsync(store, machine, from, to, whole, stop).ConfigureAwait(false);
            whole.Position = 0;
            using var reader = new RecordingReader(whole, new ChannelTable());
            return await CopyAsync(reader, machineAs, disguise, answersFrom, alarms, output, stop).ConfigureAwait(false);
        }
    }

    private static async Task<CutRecording> CopyAsync(
        RecordingReader reader, string machineAs, Disguise? disguise, Instant answersFrom, bool alarms, Stream output, CancellationToken stop)
    {
        reader.ReadHead();
        if (reader.IsTraining)
            await output.WriteAsync(RecordingReader.TrainingMark.ToArray(), stop).ConfigureAwait(false);
        var lines = new LineFormatter();
        var jobs = new SortedSet<string>(StringComparer.Ordinal);
        var (samples, runs, services, told) = (0L, 0, 0, 0);
        Instant? first = null;
        Instant? last = null;
        while (reader.Read() is { } e)
        {
            switch (e.Kind)
            {
                case RecordingEventKind.JobRecord:
                    EventLines.Write(lines, e.JobRecord!);
                    jobs.Add(e.JobRecord!.Job);
                    break;
                case RecordingEventKind.JobRun:
                    EventLines.Write(lines, e.JobRun! with { Machine = machineAs });
                    runs++;
                    if (e.JobRun!.Job is { } job)
                        jobs.Add(job);
                    break;
                case RecordingEventKind.Service when IsAnswer(e.Service!, answersFrom):
                    break;
                case RecordingEventKind.Service:
                    var service = e.Service! with { Machine = machineAs };
                    EventLines.Write(lines, disguise?.Of(service) ?? service);
                    services++;
                    break;
                case RecordingEventKind.Alarm when alarms:
                    var alarm = e.Alarm! with { Machine = machineAs };
                    EventLines.Write(lines, disguise?.Of(alarm) ?? alarm);
                    told++;
                    break;
                case RecordingEventKind.Telemetry:
                    lines.Measurement(EventLines.Telemetry).Tag("machine", machineAs);
                    foreach (var value in e.Values)
                        lines.Field(value.Channel.Name, value.Value);
                    lines.Time(e.At);
                    samples += e.Values.Length;
                    first ??= e.At;
                    last = e.At;
                    break;
            }

            if (lines.Written.Length < 1 << 16)
                continue;
            await output.WriteAsync(lines.WrittenMemory, stop).ConfigureAwait(false);
            lines.ForgetWritten();
        }

        await output.WriteAsync(lines.WrittenMemory, stop).ConfigureAwait(false);
        return new(samples, runs, services, told, first, last, [.. jobs]);
    }

    private static bool IsAnswer(ServiceEvent service, Instant answersFrom) =>
        Annotation.IsOne(service) && (Annotation.Of(service)?.To ?? service.At) > answersFrom;
}
