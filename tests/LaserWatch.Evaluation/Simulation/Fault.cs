using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>What can go wrong with a machine, and what its room and its people do to a healthy one. The size's meaning stands beside each.</summary>
internal enum FaultKind
{
    /// <summary>Fraction by which the supply's current falls at every command: regulation or multiplier ageing, or a sudden failure.</summary>
    SupplyFalls,

    /// <summary>Fraction by which the current falls that the supply can drive at its voltage limit, as the tube's voltage rises with its gas.</summary>
    LimitFalls,

    /// <summary>Fraction of the light lost while a regulating supply holds the current.</summary>
    LightFalls,

    /// <summary>Fraction by which the command arriving at the supply falls.</summary>
    CommandFalls,

    /// <summary>Fraction of the return current that takes a way past the sensor.</summary>
    ReturnBypassed,

    /// <summary>Fraction by which the current sensor's gain falls.</summary>
    CurrentGainFalls,

    /// <summary>Milliamperes by which the current sensor's zero falls.</summary>
    CurrentZeroFalls,

    /// <summary>Fraction by which low mains lowers the supply's limit.</summary>
    MainsLow,

    /// <summary>Fraction of the radiator's conductance lost (fouling, clogged fan, fan stopped).</summary>
    RadiatorLoses,

    /// <summary>Kelvins by which the chiller's set point was moved.</summary>
    SetPointMoved,

    /// <summary>1: the chiller's compressor does not start.</summary>
    ChillerDead,

    /// <summary>Fraction by which the coolant flow falls.</summary>
    PumpWeak,

    /// <summary>Fraction of time in which air in the loop breaks the flow.</summary>
    AirInLoop,

    /// <summary>Kelvins by which the coolant sensor's offset grows.</summary>
    CoolantOffset,

    /// <summary>Fraction of the pressure at the sensor lost by a kink before it, at the shop's first job with air.</summary>
    LineKinked,

    /// <summary>Fraction of the pressure at the sensor lost by a leak before it, at the shop's first job with air.</summary>
    LineLeaks,

    /// <summary>1: the compressor does not start; the tank runs down.</summary>
    CompressorTripped,

    /// <summary>Fraction by which the regulator delivers less than set.</summary>
    RegulatorLow,

    /// <summary>Fraction of the nozzle's conductance lost.</summary>
    NozzleClogged,

    /// <summary>Factor of the nozzle's conductance gained, less one: nozzle missing or loose.</summary>
    NozzleOpen,

    /// <summary>1: the air valve does not open.</summary>
    ValveShut,

    /// <summary>1: the channel keeps its last value.</summary>
    SensorFrozen,

    /// <summary>1: the channel says nothing.</summary>
    SensorSilent,

    /// <summary>The value the channel says instead of the truth: a broken thermistor, a torn wire.</summary>
    SensorBroken,

    /// <summary>Kelvins by which the room is warmer (or colder, negative) than its season.</summary>
    RoomWarmer,

    /// <summary>Kelvins by which the room's dew point rises.</summary>
    AirMoister,

    /// <summary>Factor by which more is cut a day, less one.</summary>
    MoreWork,

    /// <summary>Fraction by which the new tube's current differs from the old one's, from the moment of its replacement.</summary>
    TubeReplaced,
}

/// <summary>One thing that goes wrong, and when. Times in seconds since the scenario's beginning.</summary>
/// <param name="Ramp">Seconds until it has its whole size; 0: at once.</param>
/// <param name="Accelerates">It grows with the square of time, not evenly.</param>
/// <param name="Channel">The channel of a sensor's fault.</param>
internal sealed record Fault(
    FaultKind Kind, double Size, double Onset, double Ramp = 0, double Until = double.PositiveInfinity, bool Accelerates = false,
    Channel? Channel = null)
{
    /// <summary>Its size at a time; 0 before its onset and after its end.</summary>
    public double At(double time)
    {
        if (time < Onset || time >= Until)
            return 0;
        if (Ramp <= 0)
            return Size;
        var share = Math.Min((time - Onset) / Ramp, 1);
        return Size * (Accelerates ? share * share : share);
    }

    /// <summary>When it reaches a size; its onset where it comes at once.</summary>
    public double Reaches(double size)
    {
        var share = Math.Clamp(size / Size, 0, 1);
        return Onset + (Ramp * (Accelerates ? Math.Sqrt(share) : share));
    }
}
