using LaserWatch.Jobs;
using LaserWatch.Recordings;

namespace LaserWatch.Demo;

/// <summary>What a simulated machine tells, as the lines of a recording.</summary>
public static class SimulatedRecording
{
    /// <summary>The recording as a stream that is made while it is read: it needs neither a file nor memory for the whole.</summary>
    public static Stream Open(string machine, IReadOnlyList<JobRecord> jobs, IEnumerable<SimulatedMoment> moments) =>
        new MadeStream(Lines(machine, jobs, moments).GetEnumerator());

    /// <summary>Writes the whole recording.</summary>
    public static void Write(Stream to, string machine, IReadOnlyList<JobRecord> jobs, IEnumerable<SimulatedMoment> moments)
    {
        foreach (var lines in Lines(machine, jobs, moments))
            to.Write(lines.Span);
    }

    /// <summary>Lines in time order, some at a time; each part is good until the next.</summary>
    private static IEnumerable<ReadOnlyMemory<byte>> Lines(string machine, IReadOnlyList<JobRecord> jobs, IEnumerable<SimulatedMoment> moments)
    {
        var lines = new LineFormatter();
        foreach (var job in jobs.OrderBy(job => job.RecordedAt))
            EventLines.Write(lines, job);
        foreach (var moment in moments)
        {
            foreach (var service in moment.Services)
                EventLines.Write(lines, service);
            foreach (var job in moment.Jobs)
                EventLines.Write(lines, job);
            if (moment.Values.Count > 0)
            {
                lines.Measurement(EventLines.Telemetry).Tag("machine", machine);
                foreach (var value in moment.Values)
                    lines.Field(value.Channel.Name, value.Value);
                lines.Time(moment.At);
            }

            if (lines.Written.Length < 1 << 15)
                continue;
            yield return lines.WrittenMemory;
            lines.Clear();
        }

        yield return lines.WrittenMemory;
    }

    private sealed class MadeStream(IEnumerator<ReadOnlyMemory<byte>> parts) : OneWayStream
    {
        private ReadOnlyMemory<byte> _part;

        public override int Read(Span<byte> buffer)
        {
            while (_part.IsEmpty)
            {
                if (!parts.MoveNext())
                    return 0;
                _part = parts.Current;
            }

            var length = Math.Min(buffer.Length, _part.Length);
            _part.Span[..length].CopyTo(buffer);
            _part = _part[length..];
            return length;
        }

        protected override void Dispose(bool disposing)
        {
            if (disposing)
                parts.Dispose();
            base.Dispose(disposing);
        }
    }
}
