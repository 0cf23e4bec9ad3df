using LaserWatch.Evaluation.Simulation;
using LaserWatch.Jobs;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation;

/// <summary>Writes what a machine tells as a recording: the same that a watch would be told, in the same order.</summary>
internal sealed class RecordingSink(Stream to) : ITelemetrySink
{
    private const int FlushAt = 1 << 16;

    private readonly LineFormatter _lines = new();

    public void Take(JobRecord record) => EventLines.Write(_lines, record);

    public void Take(JobEvent change) => EventLines.Write(_lines, change);

    public void Take(ServiceEvent service) => EventLines.Write(_lines, service);

    public void Take(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        _lines.Measurement(EventLines.Telemetry).Tag("machine", Machine.Name);
        foreach (var (channel, value) in values)
            _lines.Field(channel.Name, value);
        _lines.Time(at);
    }

    public void StepDone(double time)
    {
        if (_lines.Written.Length >= FlushAt)
            Flush();
    }

    public void Flush()
    {
        to.Write(_lines.Written);
        _lines.Clear();
    }
}
