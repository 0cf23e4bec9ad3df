namespace LaserWatch.Physics;

/// <summary>Dry air through an ideal nozzle of known area: from a drilled hole to a mass flow and a sonic conductance.</summary>
/// <remarks>
/// One-dimensional isentropic flow of a perfect gas, γ = 1.4, R = 287.05 J/(kg·K): choked,
/// ṁ = Cd·A·p1·√(γ/(R·T1)·(2/(γ+1))^((γ+1)/(γ−1))); else ṁ = Cd·A·p1·√(2γ/((γ−1)·R·T1)·(r^(2/γ) − r^((γ+1)/γ))), r = p2/p1
/// (any text on gas dynamics; from memory).
/// </remarks>
public static class AirNozzle
{
    private const double Gamma = 1.4;
    private const double GasConstant = 287.05;

    /// <summary>Density of air at the standard reference atmosphere of ISO 6358 (ANR), kg/m³.</summary>
    private const double ReferenceDensity = 1.185;

    /// <summary>Below this ratio of the pressures after and before it, the flow is choked: (2/(γ+1))^(γ/(γ−1)).</summary>
    public static double CriticalRatio { get; } = Math.Pow(2 / (Gamma + 1), Gamma / (Gamma - 1));

    /// <summary>ṁ·√T1/(Cd·A·p1) of a choked nozzle, s·√K/m.</summary>
    public static double ChokedConstant { get; } = Math.Sqrt(Gamma / GasConstant * Math.Pow(2 / (Gamma + 1), (Gamma + 1) / (Gamma - 1)));

    /// <summary>Mass flow, kg/s; 0 where nothing drives it.</summary>
    /// <param name="squareMillimetres">Area of the narrowest place, mm².</param>
    /// <param name="upstreamBar">Bar absolute.</param>
    /// <param name="downstreamBar">Bar absolute.</param>
    /// <param name="upstreamKelvin">Kelvin.</param>
    /// <param name="discharge">Cd: 1 for an ideal nozzle, some 0.6 for a sharp hole.</param>
    public static double MassFlow(
        double squareMillimetres, double upstreamBar, double downstreamBar, double upstreamKelvin, double discharge = 1)
    {
        if (downstreamBar >= upstreamBar)
            return 0;
        var ratio = downstreamBar / upstreamBar;
        var constant = ratio <= CriticalRatio
            ? ChokedConstant
            : Math.Sqrt(2 * Gamma / ((Gamma - 1) * GasConstant) * (Math.Pow(ratio, 2 / Gamma) - Math.Pow(ratio, (Gamma + 1) / Gamma)));
        return discharge * squareMillimetres * 1e-6 * upstreamBar * 1e5 * constant / Math.Sqrt(upstreamKelvin);
    }

    /// <summary>The same as a flow of free air (ANR), L/min.</summary>
    public static double FreeAirLitresPerMinute(double kilogramsPerSecond) => kilogramsPerSecond / ReferenceDensity * 60_000;

    /// <summary>Sonic conductance, dm³/(s·bar), of a nozzle of such an area: its choked flow at 20 °C over the pressure before it.</summary>
    public static double Conductance(double squareMillimetres, double discharge = 1) =>
        MassFlow(squareMillimetres, 1, 0.1, SonicConductance.ReferenceKelvin, discharge) / ReferenceDensity * 1000;
}
