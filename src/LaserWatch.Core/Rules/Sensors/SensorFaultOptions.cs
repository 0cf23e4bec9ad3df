using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>When a sensor is not believed.</summary>
public sealed record SensorFaultOptions
{
    /// <summary>During a run, a channel that used to speak regularly is silent after so many of its own intervals. Default 10.</summary>
    [Range(3, 1000)]
    public double SilentIntervals { get; init; } = 10;

    /// <summary>No channel is called silent sooner than this, in seconds. Default 30.</summary>
    [Range(5, 3600)]
    public double SilentAtLeastSeconds { get; init; } = 30;

    /// <summary>A channel is stuck when it stays bit-identical, with the beam on, so many times longer than it ever did before. Default 10.</summary>
    [Range(3, 100)]
    public double StuckTimesLongest { get; init; } = 10;

    /// <summary>Pressure and current: never called stuck before so many seconds of beam. Default 120.</summary>
    [Range(10, 36000)]
    public double StuckFastSeconds { get; init; } = 120;

    /// <summary>Temperatures, humidity and flow: never called stuck before so many seconds of beam. Default 1200.</summary>
    [Range(60, 36000)]
    public double StuckSlowSeconds { get; init; } = 1200;

    /// <summary>Plausible range of tube current, mA.</summary>
    public PlausibleRange TubeCurrentMilliamps { get; init; } = new(-2, 80);

    /// <summary>Plausible range of commanded power, %.</summary>
    public PlausibleRange PowerPercent { get; init; } = new(-2, 105);

    /// <summary>Plausible range of air pressure, kPa gauge.</summary>
    public PlausibleRange AirPressureKilopascals { get; init; } = new(-30, 1500);

    /// <summary>Plausible range of air flow, L/min.</summary>
    public PlausibleRange AirFlowLitresPerMinute { get; init; } = new(-5, 1000);

    /// <summary>Plausible range of coolant temperatures, °C. A broken thermistor reads far outside; 85 °C is what some digital sensors say when they have just started.</summary>
    public PlausibleRange CoolantCelsius { get; init; } = new(-10, 84);

    /// <summary>Plausible range of coolant flow, L/min.</summary>
    public PlausibleRange CoolantFlowLitresPerMinute { get; init; } = new(-1, 100);

    /// <summary>Plausible range of room temperature, °C.</summary>
    public PlausibleRange AmbientCelsius { get; init; } = new(-30, 60);

    /// <summary>Plausible range of room humidity, %RH.</summary>
    public PlausibleRange HumidityPercent { get; init; } = new(0, 102);

    private static readonly PlausibleRange Unit = new(0, 1);
    private static readonly PlausibleRange NotNegative = new(0, double.MaxValue);

    /// <summary>The range of a canonical channel; anything but negative for others.</summary>
    internal PlausibleRange RangeOf(Channel channel) => channel.Index switch
    {
        0 => TubeCurrentMilliamps,
        1 => PowerPercent,
        2 => Unit,
        3 => AirPressureKilopascals,
        4 => AirFlowLitresPerMinute,
        5 or 6 => CoolantCelsius,
        7 => CoolantFlowLitresPerMinute,
        8 => AmbientCelsius,
        9 => HumidityPercent,
        _ => NotNegative,
    };
}

/// <summary>What an instrument can say when nothing is broken; both ends included.</summary>
public sealed record PlausibleRange : IChecked
{
    public PlausibleRange() { }

    public PlausibleRange(double from, double to) => (From, To) = (from, to);

    /// <summary>The least the instrument can say, in the channel's unit. Higher: a broken sensor is known sooner; too high, a good one is not believed.</summary>
    [Range(-1e9, 1e9)]
    public double From { get; init; } = -1e9;

    /// <summary>The most the instrument can say, in the channel's unit. Lower: a broken sensor is known sooner; too low, a good one is not believed.</summary>
    [Range(-1e9, 1e9)]
    public double To { get; init; } = 1e9;

    public bool Holds(double value) => value >= From && value <= To;

    /// <summary>What is wrong with the range, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (From >= To)
            yield return "'from' is not below 'to': swap or correct them";
    }
}
