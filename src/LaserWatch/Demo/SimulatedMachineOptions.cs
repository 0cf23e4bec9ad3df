using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>What a simulated machine is like.</summary>
public sealed record SimulatedMachineOptions
{
    public string Machine { get; init; } = "bay1";

    /// <summary>The same seed gives the same samples to the bit.</summary>
    public int Seed { get; init; } = 1;

    /// <summary>The step of the physics. The intervals below are whole multiples of it.</summary>
    public TimeSpan Step { get; init; } = TimeSpan.FromMilliseconds(100);

    /// <summary>How often tube current, power, beam and air are told.</summary>
    public TimeSpan FastInterval { get; init; } = TimeSpan.FromMilliseconds(500);

    /// <summary>How often coolant and room are told.</summary>
    public TimeSpan SlowInterval { get; init; } = TimeSpan.FromSeconds(5);

    public CoolerKind Cooler { get; init; } = CoolerKind.Chiller;

    /// <summary>The channels that have a sensor.</summary>
    public IReadOnlyList<Channel> Channels { get; init; } =
    [
        Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure, Channel.CoolantIn, Channel.CoolantOut,
        Channel.AmbientTemperature, Channel.AmbientHumidity,
    ];

    /// <summary>What a thousand beam-on hours take from the current at the supply's voltage limit, as a fraction.</summary>
    public double AgePerThousandHours { get; init; } = 0.03;

    /// <summary>The current that the supply can drive through the tube when new, at its voltage limit, mA. Little above the currents in use: age shows soon.</summary>
    public double SupplyLimitMilliamps { get; init; } = 36;

    /// <summary>How far the mains stray, as a standard deviation; a supply at its voltage limit passes it on to the current.</summary>
    public double MainsDeviation { get; init; } = 0.015;

    /// <summary>How much of the compressor's swing the air regulator lets through, as a fraction.</summary>
    public double RegulatorSupplyEffect { get; init; } = 0.02;

    /// <summary>Beam-on hours of the tube at the start.</summary>
    public double BeamHours { get; init; } = 120;

    public IReadOnlyList<SimulatedFault> Faults { get; init; } = [];
}
