using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>What one MQTT message says. Reused from message to message, so that a sample allocates nothing.</summary>
public sealed class DecodedMessage
{
    /// <summary>The machine the message is about; null where it was rejected before that was known.</summary>
    public string? Machine { get; set; }

    /// <summary>Samples in the order of the message, in canonical units, calibrated.</summary>
    public List<Sample> Samples { get; } = [];

    public JobEvent? Job { get; set; }

    public ServiceEvent? Service { get; set; }

    public AlarmCommand? Command { get; set; }

    /// <summary>Why the message, or part of it, was not taken; good samples of the same message stand beside it.</summary>
    public Rejection Rejection { get; set; }

    /// <summary>What is wrong in words, for the log; null where the reason says it all.</summary>
    public string? RejectionDetail { get; set; }

    /// <summary>Samples of this message whose sensor time was out of bounds, so that arrival time was taken.</summary>
    public int SkewedTimes { get; set; }

    /// <summary>A sensor of a 4–20 mA loop said that it has failed (NAMUR NE 43); the channel it feeds.</summary>
    public Channel? FailedSensor { get; set; }

    public void Clear()
    {
        Machine = null;
        Samples.Clear();
        Job = null;
        Service = null;
        Command = null;
        Rejection = Rejection.None;
        RejectionDetail = null;
        SkewedTimes = 0;
        FailedSensor = null;
    }
}
