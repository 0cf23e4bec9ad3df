using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Life;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Monitoring;

/// <summary>Everything that tunes the watch over one machine. Every value has a default.</summary>
public sealed record MonitorOptions : IChecked
{
    public static readonly MonitorOptions Default = new();

    /// <summary>How runs are worked out where nobody announces them.</summary>
    public RunOptions Runs { get; init; } = new();

    /// <summary>Air assist against the job's recorded pressure.</summary>
    public AirPressureOptions AirPressure { get; init; } = new();

    /// <summary>Water that condenses in the compressed air.</summary>
    public WaterTrapOptions WaterTrap { get; init; } = new();

    /// <summary>Tube current at fixed power against its baseline.</summary>
    public TubeCurrentOptions TubeCurrent { get; init; } = new();

    /// <summary>Coolant limits, dew point, course, flow and drift.</summary>
    public CoolantOptions Coolant { get; init; } = new();

    /// <summary>What the tube is rated for, and when its end is announced.</summary>
    public TubeLifeOptions TubeLife { get; init; } = new();

    /// <summary>Work that comes round: which part, after how much beam or how long.</summary>
    public UpkeepOptions Upkeep { get; init; } = new();

    /// <summary>When a sensor is not believed.</summary>
    public SensorFaultOptions Sensors { get; init; } = new();

    /// <summary>The life cycle of alarms: priorities, delays, what latches, when one chatters.</summary>
    public AlarmOptions Alarms { get; init; } = new();

    /// <summary>Limits for channels outside LaserWatch's own list, by channel name.</summary>
    public IReadOnlyDictionary<string, ChannelLimitOptions> Limits { get; init; } = new Dictionary<string, ChannelLimitOptions>();

    /// <summary>What is wrong with the rules as a whole, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes() => Alarms.Mistakes(Limits.Keys);
}
