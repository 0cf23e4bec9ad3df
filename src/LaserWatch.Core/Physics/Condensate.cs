namespace LaserWatch.Physics;

/// <summary>The water that falls out of the room's air once it is compressed and has cooled.</summary>
/// <remarks>
/// A mass balance: the water vapour in a kilogram of dry air, w = 0.62198·e/(p − e), cannot exceed that of saturated air at the higher
/// pressure, and what exceeds it condenses. Vapour pressure over water by the Magnus formula of <see cref="DewPoint"/>;
/// vapour density by the perfect gas, 461.52 J/(kg·K), within 0.6 % of IAPWS-95 from 2 to 40 °C.
/// </remarks>
public static class Condensate
{
    private const double MassRatio = 0.62198;
    private const double VapourGasConstant = 461.52;
    private const double AirGasConstant = 287.05;
    private const double RoomKilopascals = 101.325;

    /// <summary>Pressure of saturated vapour over water, kPa.</summary>
    public static double SaturationPressure(double celsius) => 0.6112 * Math.Exp(DewPoint.A * celsius / (DewPoint.BCelsius + celsius));

    /// <summary>Water in saturated air, g/m³.</summary>
    public static double SaturatedVapour(double celsius) => SaturationPressure(celsius) * 1e6 / (VapourGasConstant * Kelvin(celsius));

    /// <summary>Water vapour in a cubic metre of the room's air, g.</summary>
    public static double InRoomAir(double celsius, double relativeHumidityPercent) =>
        SaturatedVapour(celsius) * relativeHumidityPercent / 100;

    /// <summary>Liquid water from one cubic metre of the room's air, g (or mL): what it holds, less what can stay in it as vapour.</summary>
    /// <param name="roomCelsius">Temperature of the air drawn in, °C.</param>
    /// <param name="relativeHumidityPercent">Its relative humidity, %RH.</param>
    /// <param name="gaugeKilopascals">Pressure it is compressed to, kPa gauge.</param>
    /// <param name="cooledToCelsius">Temperature it has then cooled to, °C.</param>
    public static double PerCubicMetre(double roomCelsius, double relativeHumidityPercent, double gaugeKilopascals, double cooledToCelsius)
    {
        var vapour = SaturationPressure(roomCelsius) * relativeHumidityPercent / 100;
        var dryAir = (RoomKilopascals - vapour) * 1e6 / (AirGasConstant * Kelvin(roomCelsius));
        var stays = SaturationPressure(cooledToCelsius);
        var ratioStays = MassRatio * stays / Math.Max(RoomKilopascals + gaugeKilopascals - stays, 1e-9);
        var ratioIn = MassRatio * vapour / (RoomKilopascals - vapour);
        return Math.Max(0, dryAir * (ratioIn - ratioStays));
    }

    private static double Kelvin(double celsius) => celsius + 273.15;
}
