namespace LaserWatch.Physics;

/// <summary>Air through a nozzle, a hose or a valve, by its sonic conductance C and critical pressure ratio b.</summary>
/// <remarks>
/// ISO 6358-1:2013 (formula from memory): q = C·p1·√(T0/T1) where the flow is choked, p2/p1 ≤ b; else that times
/// √(1 − ((p2/p1 − b)/(1 − b))²), the exponent m = 0.5 of the standard. Flow is of air at the standard reference atmosphere
/// (ANR): 20 °C, 100 kPa. Pressures here are absolute and in bar, C in dm³/(s·bar), as the standard's tables and data sheets have them.
/// </remarks>
public static class SonicConductance
{
    /// <summary>The room's pressure where nobody measures it, bar absolute.</summary>
    public const double RoomBar = 1.01325;

    /// <summary>The critical ratio of a plain nozzle by the convention of the standard.</summary>
    public const double NozzleCriticalRatio = 0.5;

    /// <summary>T0 of the standard, kelvin.</summary>
    public const double ReferenceKelvin = 293.15;

    private const double SecondsPerMinute = 60;

    /// <summary>Flow in dm³/s (ANR); 0 where nothing drives it.</summary>
    /// <param name="conductance">C, dm³/(s·bar).</param>
    /// <param name="criticalRatio">b, 0 up to below 1.</param>
    /// <param name="upstreamBar">p1, bar absolute.</param>
    /// <param name="downstreamBar">p2, bar absolute.</param>
    /// <param name="upstreamKelvin">T1, kelvin.</param>
    /// <exception cref="ArgumentOutOfRangeException">A pressure or the temperature is not above zero, or b not in [0, 1).</exception>
    public static double Flow(
        double conductance, double criticalRatio, double upstreamBar, double downstreamBar, double upstreamKelvin = ReferenceKelvin) =>
        conductance * FlowPerConductance(criticalRatio, upstreamBar, downstreamBar, upstreamKelvin);

    /// <summary>The conductance that lets such a flow through, dm³/(s·bar); null where no pressure drives it, for then any would do.</summary>
    /// <param name="flow">dm³/s (ANR).</param>
    /// <inheritdoc cref="Flow"/>
    public static double? FromFlow(
        double flow, double criticalRatio, double upstreamBar, double downstreamBar, double upstreamKelvin = ReferenceKelvin)
    {
        var perConductance = FlowPerConductance(criticalRatio, upstreamBar, downstreamBar, upstreamKelvin);
        return perConductance > 0 ? flow / perConductance : null;
    }

    /// <summary>The conductance of an air-assist nozzle that blows into the room, dm³/(s·bar), from what the sensors read; null at no pressure.</summary>
    public static double? OfNozzle(double litresPerMinute, double gaugeKilopascals) => gaugeKilopascals <= 0 ? null
        : FromFlow(litresPerMinute / SecondsPerMinute, NozzleCriticalRatio, Absolute(gaugeKilopascals), RoomBar);

    /// <summary>Flow of an air-assist nozzle that blows into the room, L/min (ANR); 0 at no pressure.</summary>
    public static double NozzleFlow(double conductance, double gaugeKilopascals) => gaugeKilopascals <= 0 ? 0
        : SecondsPerMinute * Flow(conductance, NozzleCriticalRatio, Absolute(gaugeKilopascals), RoomBar);

    /// <summary>The gauge pressure above which a nozzle to the room is choked, bar: p0·(1/b − 1).</summary>
    public static double ChokedAboveGaugeBar(double criticalRatio) => RoomBar * ((1 / criticalRatio) - 1);

    /// <summary>Bar absolute from kPa gauge.</summary>
    public static double Absolute(double gaugeKilopascals) => (gaugeKilopascals / 100) + RoomBar;

    private static double FlowPerConductance(double b, double upstream, double downstream, double kelvin)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(upstream);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(downstream);
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(kelvin);
        if (!(b is >= 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(b), b, "A critical pressure ratio lies from 0 to below 1.");
        if (downstream >= upstream)
            return 0;
        var ratio = downstream / upstream;
        var beyond = Math.Max(0, (ratio - b) / (1 - b));
        // Mostly nobody measures the temperature.
        var warmth = kelvin == ReferenceKelvin ? 1 : Math.Sqrt(ReferenceKelvin / kelvin);
        return upstream * warmth * Math.Sqrt(1 - (beyond * beyond));
    }
}
