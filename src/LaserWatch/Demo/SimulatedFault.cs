using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

public enum FaultKind
{
    /// <summary>The hose is kinked before the sensor; severity is the part of its conductance that is lost.</summary>
    HoseKink,

    /// <summary>The compressor stands still, and the tank runs down.</summary>
    CompressorTrip,

    /// <summary>The regulator is set lower; severity is the part of the setting.</summary>
    WrongRegulatorSetting,

    /// <summary>The nozzle is partly closed by spatter; severity is the part of its conductance that is lost.</summary>
    NozzleObstruction,

    /// <summary>Fan or condenser clogged; severity is the part of the cooling that is lost.</summary>
    CloggedCooler,

    /// <summary>Severity is the part of the flow that is lost.</summary>
    WeakPump,

    /// <summary>Severity is the part of the current at the supply's voltage limit that age has taken.</summary>
    AgeingTube,

    /// <summary>The supply gives less at every command; severity is the part of the current that is lost.</summary>
    SupplyLoss,

    /// <summary>A sensor says nothing more.</summary>
    SensorSilent,

    /// <summary>A sensor repeats its last value.</summary>
    SensorStuck,

    /// <summary>A sensor tells the severity as its value, such as −127.</summary>
    SensorImplausible,
}

/// <summary>Something that goes wrong for a time.</summary>
/// <param name="Severity">How bad, as the kind says.</param>
/// <param name="Ramp">How long it takes to come to its full severity; zero: at once.</param>
/// <param name="Channel">The sensor's, for faults of sensors.</param>
public sealed record SimulatedFault(
    FaultKind Kind, Instant From, Instant Until, double Severity, TimeSpan Ramp = default, Channel? Channel = null)
{
    /// <summary>How bad it is at a time; null where it is not there.</summary>
    public double? SeverityAt(Instant at)
    {
        if (at < From || at >= Until)
            return null;
        var passed = at.SecondsSince(From);
        return Ramp <= TimeSpan.Zero || passed >= Ramp.TotalSeconds ? Severity : Severity * passed / Ramp.TotalSeconds;
    }
}
