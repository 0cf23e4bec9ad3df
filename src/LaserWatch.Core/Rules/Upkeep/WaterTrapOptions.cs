using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Rules;

/// <summary>How the water that condenses in the compressed air is reckoned, and when the trap is due to be drained.</summary>
/// <remarks>Bowl, fraction and pressures: common practice, no source. The water itself is held to published figures by <c>CondensateTests</c>.</remarks>
public sealed record WaterTrapOptions
{
    /// <summary>What the trap's bowl holds, mL. Default 50, common practice without a source. Higher: due later.</summary>
    [Range(1, 20_000)]
    public double TrapMillilitres { get; init; } = 50;

    /// <summary>The trap is due at this fraction of what it holds. Default 0.8. Higher: due later, and water may be carried over.</summary>
    [Range(0.05, 1)]
    public double DueFraction { get; init; } = 0.8;

    /// <summary>The trap drains itself: the rule is off. Default false.</summary>
    public bool AutomaticDrain { get; init; }

    /// <summary>A tank before the trap keeps what condenses in it, and is drained on its own; the trap gets only what falls out as the air cools from there to the room. Default false. True: due later.</summary>
    public bool KeptInTank { get; init; }

    /// <summary>Gauge pressure the air is compressed to before it cools, kPa. Default 700. An air pump without a tank: its own pressure, some 30; there is less water then.</summary>
    [Range(1, 2000)]
    public double CompressedToKilopascals { get; init; } = 700;

    /// <summary>How much warmer than the room the air still is where it leaves the tank, °C. Default 5. Higher: less water in the trap.</summary>
    [Range(0, 60)]
    public double TankAboveRoomCelsius { get; init; } = 5;

    /// <summary>Sonic conductance of the nozzle, dm³/(s·bar), to reckon the flow by where no flow sensor is fitted. Default 0.35: a nozzle of 1.5 mm; 0.2 times its area in mm² for another.</summary>
    [Range(0.01, 20)]
    public double NozzleConductance { get; init; } = 0.35;
}
