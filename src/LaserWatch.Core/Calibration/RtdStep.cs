using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

/// <summary>Platinum resistance thermometer (Pt100, Pt500, Pt1000): ohms to °C.</summary>
/// <remarks>
/// Callendar–Van Dusen equation with the coefficients of IEC 60751: R(t) = R0·(1 + A·t + B·t² + C·(t − 100 °C)·t³), where C counts below 0 °C
/// only. Above, the quadratic is solved; below, Newton's method runs from the quadratic's solution. Valid from −200 to 850 °C.
/// </remarks>
public sealed record RtdStep : CalibrationStep
{
    private const double A = 3.9083e-3;
    private const double B = -5.775e-7;
    private const double C = -4.183e-12;
    private const double CoolestCelsius = -200;
    private const double HottestCelsius = 850;

    private static readonly double LeastRatio = Ratio(CoolestCelsius);
    private static readonly double GreatestRatio = Ratio(HottestCelsius);

    /// <summary>Resistance at 0 °C, in ohms: 100 for a Pt100, 1000 for a Pt1000.</summary>
    [Range(10, 10_000)]
    public double R0Ohms { get; init; } = 100;

    [JsonIgnore]
    public override string RawUnit => "Ohm";

    [JsonIgnore]
    public override string ValueUnit => "°C";

    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        var ratio = raw / R0Ohms;
        if (!(ratio >= LeastRatio))
            return Bad(CalibrationFault.ShortCircuit, out value, out fault);
        if (ratio > GreatestRatio)
            return Bad(CalibrationFault.OpenCircuit, out value, out fault);

        var t = (-A + Math.Sqrt((A * A) - (4 * B * (1 - ratio)))) / (2 * B);
        if (ratio < 1)
        {
            // Convex and close: three steps reach rounding error; eight are a bound, not a need.
            for (var i = 0; i < 8; i++)
            {
                var step = (Ratio(t) - ratio) / Slope(t);
                t -= step;
                if (Math.Abs(step) < 1e-10)
                    break;
            }
        }

        return Good(t, out value, out fault);
    }

    public override IEnumerable<string> Mistakes() => [];

    /// <summary>R(t)/R0 by IEC 60751.</summary>
    internal static double Ratio(double celsius)
    {
        var below = celsius < 0 ? C * (celsius - 100) * celsius * celsius * celsius : 0;
        return 1 + (A * celsius) + (B * celsius * celsius) + below;
    }

    private static double Slope(double celsius)
    {
        var below = celsius < 0 ? C * ((4 * celsius) - 300) * celsius * celsius : 0;
        return A + (2 * B * celsius) + below;
    }
}
