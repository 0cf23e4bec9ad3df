using LaserWatch.Rules;

namespace LaserWatch.Telemetry;

/// <summary>One measured quantity of a machine, in its canonical unit.</summary>
/// <remarks>
/// Compared by reference: get it from a <see cref="ChannelTable"/>, or from the fields here. A new canonical channel also
/// needs: a place in <see cref="Canonical"/> and in <see cref="CanonicalIndex"/>, a plausible range in <c>SensorFaultOptions</c>, a unit in <c>Units</c> of the agent,
/// and a line in the README's table.
/// </remarks>
public sealed class Channel
{
    internal Channel(int index, string name, string unit)
    {
        Index = index;
        Name = name;
        Unit = unit;
    }

    public static readonly Channel TubeCurrent = new(CanonicalIndex.TubeCurrent, "tube_current", "mA");
    public static readonly Channel Power = new(CanonicalIndex.Power, "power", "%");
    public static readonly Channel Lasing = new(CanonicalIndex.Lasing, "lasing", "");
    public static readonly Channel AirPressure = new(CanonicalIndex.AirPressure, "air_pressure", "kPa");
    public static readonly Channel AirFlow = new(CanonicalIndex.AirFlow, "air_flow", "L/min");
    public static readonly Channel CoolantIn = new(CanonicalIndex.CoolantIn, "coolant_in", "°C");
    public static readonly Channel CoolantOut = new(CanonicalIndex.CoolantOut, "coolant_out", "°C");
    public static readonly Channel CoolantFlow = new(CanonicalIndex.CoolantFlow, "coolant_flow", "L/min");
    public static readonly Channel AmbientTemperature = new(CanonicalIndex.AmbientTemperature, "ambient_temperature", "°C");
    public static readonly Channel AmbientHumidity = new(CanonicalIndex.AmbientHumidity, "ambient_humidity", "%RH");
    public static readonly Channel Runtime = new(CanonicalIndex.Runtime, "runtime", "h");

    internal const int CanonicalCount = 11;

    private static readonly Channel[] InOrder = new Channel[CanonicalCount]
    {
        TubeCurrent, Power, Lasing, AirPressure, AirFlow, CoolantIn, CoolantOut, CoolantFlow, AmbientTemperature,
        AmbientHumidity, Runtime,
    };

    /// <summary>The channels of config/interface.md; <see cref="Index"/> is the place in this list.</summary>
    public static IReadOnlyList<Channel> Canonical => InOrder;

    /// <summary>The same, to be walked on the path of a sample without allocating.</summary>
    internal static ReadOnlySpan<Channel> CanonicalSpan => InOrder;

    /// <summary>Small and dense within one <see cref="ChannelTable"/>: for arrays, never for storage.</summary>
    public int Index { get; }

    public string Name { get; }

    /// <summary>The canonical unit as printed; empty for 0/1 and for channels whose unit nobody told.</summary>
    public string Unit { get; }

    public bool IsCanonical => Index < CanonicalCount;

    public override string ToString() => Name;
}
