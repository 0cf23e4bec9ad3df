using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>By what the tube's heat is known; a higher one is nearer to the heat. Scales of two kinds must never be mixed.</summary>
internal enum HeatLoadKind
{
    /// <summary>Not known, or known in several ways within one mean.</summary>
    None,

    /// <summary>Only whether the beam is on.</summary>
    Beam,

    /// <summary>Commanded power with the beam on.</summary>
    Power,

    /// <summary>Tube current: the tube's input is nearly proportional to it, also while it engraves a picture.</summary>
    Current,
}

/// <summary>The heat the tube gives to its coolant, as a share of full load; how many watts or kelvins that is, each machine's own data say.</summary>
/// <param name="Share">0 at rest, about 1 at full load; 0 where the kind is <see cref="HeatLoadKind.None"/>.</param>
internal readonly record struct HeatLoad(double Share, HeatLoadKind Kind)
{
    // Working current of common tubes is 20 to 25 mA (common practice); the scale itself is learned.
    private const double FullMilliamps = 20;

    public static HeatLoad Of(Reading reading)
    {
        if (reading.Has(CanonicalIndex.TubeCurrent))
            return new(Math.Clamp(reading[CanonicalIndex.TubeCurrent] / FullMilliamps, 0, 3), HeatLoadKind.Current);
        if (reading.BeamOn is not { } on)
            return default;
        if (!reading.Has(CanonicalIndex.Power))
            return new(on ? 1 : 0, HeatLoadKind.Beam);
        return new(on ? Math.Clamp(reading[CanonicalIndex.Power] / 100, 0, 1) : 0, HeatLoadKind.Power);
    }
}
