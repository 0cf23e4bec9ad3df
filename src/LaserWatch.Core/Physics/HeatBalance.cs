namespace LaserWatch.Physics;

/// <summary>What the heat carried away by the coolant says of its flow: Q = ρ·c_p·V̇·ΔT, solved for what is not measured.</summary>
/// <remarks>
/// The balance sees what the tube takes in, not what it gives as light: with 60 W of light from 374 W and 3 L/min, a fifth of the
/// light lost warms the coolant by 0.06 K more (computed from the same equation). It cannot clear or condemn a tube.
/// </remarks>
public static class HeatBalance
{
    private const double LeastRiseKelvins = 1e-6;

    /// <summary>The flow that carries the heat at the rise from in to out, in L/min; ρ and c_p at the mean temperature.</summary>
    /// <returns>Null where there is no rise in the direction of the heat: then nothing can be said of the flow.</returns>
    public static double? LitresPerMinute(double watts, double inCelsius, double outCelsius)
    {
        var perLitre = Water.HeatFlowWatts(1, inCelsius, outCelsius);
        return Math.Abs(outCelsius - inCelsius) < LeastRiseKelvins || Math.Sign(perLitre) != Math.Sign(watts) ? null : watts / perLitre;
    }

    /// <summary>The rise of temperature that the heat gives to the flow, in kelvins.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The flow is not above 0.</exception>
    public static double RiseKelvins(double watts, double litresPerMinute, double inCelsius)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(litresPerMinute);
        // The properties hardly depend on the outlet: two rounds settle it to 1e-6 K.
        var rise = 0.0;
        for (var round = 0; round < 3; round++)
            rise = watts / Water.HeatFlowWatts(litresPerMinute, inCelsius + (rise / 2) - 0.5, inCelsius + (rise / 2) + 0.5);
        return rise;
    }

    /// <summary>
    /// Flow as a fraction of what it was, from the rise at like heat: at constant heat the two are in inverse ratio
    /// (ρ·c_p changes by less than 0.4 % from 10 to 40 °C and is left out).
    /// </summary>
    /// <returns>Null where either rise is not above 0.</returns>
    public static double? FlowRatio(double riseBefore, double riseNow) => riseBefore > 0 && riseNow > 0 ? riseBefore / riseNow : null;
}
