using LaserWatch.Alarms;
using LaserWatch.Calibration;
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

    /// <summary>A sensor said that it has failed (4–20 mA loop, NAMUR NE 43), or reads as if its wiring had; the channel it feeds.</summary>
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

    /// <summary>Notes why something was not taken; of several reasons in one message the first stays.</summary>
    internal void Reject(Rejection why, string? detail)
    {
        if (Rejection != Rejection.None)
            return;
        Rejection = why;
        RejectionDetail = detail;
    }

    /// <summary>Takes back what the message gave so far, and notes why nothing of it can be taken.</summary>
    internal void Spoil(Rejection why, string? detail)
    {
        var machine = Machine;
        Clear();
        Machine = machine;
        Reject(why, detail);
    }

    /// <summary>Calibrates and converts a raw value and adds it as a sample; else notes why it cannot be one.</summary>
    internal bool TryAdd(Channel channel, CalibrationChain chain, UnitConversion conversion, double raw, Instant at)
    {
        if (!chain.TryApply(raw, out var value, out var fault))
        {
            if (fault.MeansSensorFailed())
                FailedSensor = channel;
            Reject(Rejection.CalibrationFault, $"{channel.Name}: the raw value {PayloadText.Quote(raw)} {fault.InWords()}");
            return false;
        }

        value = conversion.Apply(value);
        if (!double.IsFinite(value))
        {
            Reject(Rejection.NotFinite, $"{channel.Name}: the raw value {PayloadText.Quote(raw)} is too large to convert");
            return false;
        }

        Samples.Add(new(channel, at, value));
        return true;
    }
}
