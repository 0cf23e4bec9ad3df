namespace LaserWatch.Telemetry;

/// <summary>The canonical channels' <see cref="Channel.Index"/> as constants: on the path of a sample a look at a channel is then one at a bit or a field.</summary>
internal static class CanonicalIndex
{
    public const int TubeCurrent = 0;
    public const int Power = 1;
    public const int Lasing = 2;
    public const int AirPressure = 3;
    public const int AirFlow = 4;
    public const int CoolantIn = 5;
    public const int CoolantOut = 6;
    public const int CoolantFlow = 7;
    public const int AmbientTemperature = 8;
    public const int AmbientHumidity = 9;
    public const int Runtime = 10;
}
