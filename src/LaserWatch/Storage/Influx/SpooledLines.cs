using System.Text;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Which of the measurements stand among some lines. The numbers are in the side file.</summary>
[Flags]
internal enum LineKinds
{
    None = 0,
    Telemetry = 1,
    JobRecords = 2,
    JobRuns = 4,
    Services = 8,
    Alarms = 16,
}

/// <summary>Turns what a batch holds for the server into line protocol: the five measurements of a recording.</summary>
/// <remarks>
/// Samples of one machine and time that follow each other share a line. A point with the measurement, tags and time of another
/// replaces it at the server, so the caller gives each run, service event and alarm a time that is free. Used again and again.
/// </remarks>
internal sealed class SpooledLines
{
    private readonly LineFormatter _lines = new();
    private readonly HashSet<Channel> _inLine = [];

    public ReadOnlySpan<byte> Text => _lines.Written;

    public int Count { get; private set; }

    public LineKinds Kinds { get; private set; }

    public Instant First { get; private set; }

    public Instant Last { get; private set; }

    /// <param name="freeTime">Measurement and tags of an event and its time; gives the time that its point takes.</param>
    public void Fill(StoreBatch batch, Func<string, Instant, Instant> freeTime)
    {
        _lines.Clear();
        Count = 0;
        Kinds = (batch.Samples.Count > 0 ? LineKinds.Telemetry : 0) | (batch.JobRecords.Count > 0 ? LineKinds.JobRecords : 0)
            | (batch.JobRuns.Count > 0 ? LineKinds.JobRuns : 0) | (batch.ServiceEvents.Count > 0 ? LineKinds.Services : 0)
            | (batch.AlarmChanges.Count > 0 ? LineKinds.Alarms : 0);
        (First, Last) = (Instant.MaxValue, Instant.MinValue);
        foreach (var record in batch.JobRecords)
        {
            EventLines.Write(_lines, record);
            Ended(record.RecordedAt);
        }

        foreach (var service in batch.ServiceEvents)
        {
            var at = freeTime(SeriesOf(EventLines.ServiceName, service.Machine), service.At);
            EventLines.Write(_lines, at == service.At ? service : service with { At = at });
            Ended(at);
        }

        foreach (var run in batch.JobRuns)
        {
            var at = freeTime(SeriesOf(EventLines.JobRunName, run.Machine), run.At);
            EventLines.Write(_lines, at == run.At ? run : run with { At = at });
            Ended(at);
        }

        Write(batch.Samples);
        foreach (var change in batch.AlarmChanges)
        {
            var at = freeTime(SeriesOf(EventLines.AlarmName, change.Machine, change.Condition), change.Time);
            EventLines.Write(_lines, at == change.Time ? change : change with { Time = at });
            Ended(at);
        }
    }

    /// <summary>What tells the points of an event apart at the server, but for their times.</summary>
    public static string SeriesOf(string measurement, string machine, string? condition = null) =>
        condition is null ? $"{measurement},{machine}" : $"{measurement},{machine},{condition}";

    /// <summary>The lines of a text, without their ends.</summary>
    public static IEnumerable<ReadOnlyMemory<byte>> Split(ReadOnlyMemory<byte> text)
    {
        while (!text.IsEmpty)
        {
            var end = text.Span.IndexOf((byte)'\n');
            yield return end < 0 ? text : text[..end];
            text = end < 0 ? default : text[(end + 1)..];
        }
    }

    public static string Shown(ReadOnlySpan<byte> line) =>
        Encoding.UTF8.GetString(line.Length <= 200 ? line : line[..200]) + (line.Length <= 200 ? "" : "…");

    private void Write(List<(string Machine, Sample Sample)> samples)
    {
        string? machine = null;
        Instant at = default;
        foreach (var (name, sample) in samples)
        {
            // A channel that comes twice at one time gets a line of its own: of two lines the later stands.
            if (machine is null || machine != name || at != sample.At || !_inLine.Add(sample.Channel))
            {
                EndLine();
                _lines.Measurement(EventLines.Telemetry).Tag("machine", name);
                (machine, at) = (name, sample.At);
                _inLine.Clear();
                _inLine.Add(sample.Channel);
            }

            _lines.Field(sample.Channel.Name, sample.Value);
        }

        EndLine();

        void EndLine()
        {
            if (machine is null)
                return;
            _lines.Time(at);
            Ended(at);
        }
    }

    private void Ended(Instant at)
    {
        Count++;
        if (at < First)
            First = at;
        if (at > Last)
            Last = at;
    }
}
