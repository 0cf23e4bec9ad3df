namespace LaserWatch.Physics;

/// <summary>Liquid water at atmospheric pressure, as it runs through a tube's jacket. For 5 to 50 °C.</summary>
/// <remarks>
/// Outside 0 to 60 °C the value of that end is given: a broken sensor can say anything, and must not make a density negative. Antifreeze
/// changes both properties: with 20 % of it the heat flow is some 5 % less than said here.
/// </remarks>
public static class Water
{
    private const double LitersPerCubicMeterMinutes = 60_000;

    /// <summary>Density in kg/m³, from °C.</summary>
    /// <remarks>
    /// G. S. Kell, Density, thermal expansivity, and compressibility of liquid water from 0 to 150 °C, J. Chem. Eng. Data 20 (1975) 97, equation 16;
    /// within 0.004 kg/m³ of IAPWS-95 from 5 to 50 °C.
    /// </remarks>
    public static double Density(double celsius)
    {
        var t = Within(celsius);
        var above = 999.83952 + (t * (16.945176 + (t * (-7.9870401e-3 + (t * (-46.170461e-6 + (t * (105.56302e-9 - (t * 280.54253e-12)))))))));
        return above / (1 + (16.879850e-3 * t));
    }

    /// <summary>Isobaric heat capacity in kJ/(kg·K), from °C.</summary>
    /// <remarks>
    /// Least-squares polynomial through twelve values of IAPWS-95 (R6-95, 2018) from 5 to 50 °C at 101.325 kPa; within 0.0001 kJ/(kg·K) of them.
    /// </remarks>
    public static double HeatCapacity(double celsius)
    {
        var x = Within(celsius) - 25;
        return 4.181311 + (x * (-4.036341e-4 + (x * (2.486387e-5 + (x * (-5.481634e-7 + (x * 8.110971e-9)))))));
    }

    /// <summary>Heat taken up by flowing water, in watts; negative where it cools. Q = ρ·cp·V·ΔT, with ρ and cp at the mean temperature.</summary>
    public static double HeatFlowWatts(double litersPerMinute, double inCelsius, double outCelsius)
    {
        var mean = (inCelsius + outCelsius) / 2;
        return Density(mean) * HeatCapacity(mean) * 1000 * (litersPerMinute / LitersPerCubicMeterMinutes) * (outCelsius - inCelsius);
    }

    private static double Within(double celsius) => Math.Clamp(celsius, 0, 60);
}
