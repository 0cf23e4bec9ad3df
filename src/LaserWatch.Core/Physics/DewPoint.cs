namespace LaserWatch.Physics;

/// <summary>The temperature at which the room's air begins to wet a cold surface.</summary>
public static class DewPoint
{
    /// <summary>Magnus coefficients over water; the second in °C.</summary>
    internal const double A = 17.62;
    internal const double BCelsius = 243.12;

    /// <summary>Dew point over water by the Magnus formula, WMO-No. 8 (CIMO Guide), Annex 4.B: within 0.05 K above 0 °C.</summary>
    /// <param name="airCelsius">Air temperature, °C; −45 to 60.</param>
    /// <param name="relativeHumidityPercent">Relative humidity, %RH; above 0.</param>
    /// <returns>°C.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The humidity is not above zero.</exception>
    public static double FromRelativeHumidity(double airCelsius, double relativeHumidityPercent)
    {
        if (!(relativeHumidityPercent > 0))
            throw new ArgumentOutOfRangeException(nameof(relativeHumidityPercent), relativeHumidityPercent, "Air without any water has no dew point.");
        var gamma = Math.Log(relativeHumidityPercent / 100) + (A * airCelsius / (BCelsius + airCelsius));
        return BCelsius * gamma / (A - gamma);
    }
}
