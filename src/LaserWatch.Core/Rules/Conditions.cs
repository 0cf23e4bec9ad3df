namespace LaserWatch.Rules;

/// <summary>The conditions, as spelled in topics, recordings and JSON; their table is in config/interface.md.</summary>
public static class Conditions
{
    public const string AirPressureLow = "air-pressure-low";
    public const string AirPressureLost = "air-pressure-lost";
    public const string AirPathRestricted = "air-path-restricted";
    public const string TubeCurrentSag = "tube-current-sag";
    public const string TubeCurrentStep = "tube-current-step";
    public const string TubeCurrentHigh = "tube-current-high";
    public const string CoolantDrift = "coolant-drift";
    public const string CoolantHot = "coolant-hot";
    public const string CoolantCold = "coolant-cold";
    public const string CoolantTimeToLimit = "coolant-time-to-limit";
    public const string CoolantFlowLow = "coolant-flow-low";
    public const string CondensationRisk = "condensation-risk";
    public const string SensorSilent = "sensor-silent";
    public const string SensorStuck = "sensor-stuck";
    public const string SensorImplausible = "sensor-implausible";
    public const string TubeLife = "tube-life";
    public const string ServiceDue = "service-due";
    public const string WaterTrapDue = "water-trap-due";

    public static readonly IReadOnlyList<string> All =
    [
        AirPressureLow, AirPressureLost, AirPathRestricted, TubeCurrentSag, TubeCurrentStep, TubeCurrentHigh, CoolantDrift,
        CoolantHot, CoolantCold, CoolantTimeToLimit, CoolantFlowLow, CondensationRisk, SensorSilent, SensorStuck,
        SensorImplausible, TubeLife, ServiceDue, WaterTrapDue,
    ];

    /// <summary>The condition of a configured limit on a channel of the shop's own.</summary>
    public static string OutOfLimits(string channel) =>
        channel.ToLowerInvariant().Replace('_', '-').Replace('.', '-') + "-out-of-limits";
}
