using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>Working limits of the coolant, and when it counts as drifting. Limits: common practice, no published source.</summary>
public sealed record CoolantOptions : IChecked
{
    /// <summary>Above this the coolant is too hot, °C. Default 30: light falls and the tube ages faster.</summary>
    [Range(5, 60)]
    public double HotCelsius { get; init; } = 30;

    /// <summary>Below this the coolant is too cold, °C. Default 5: water condenses and glass can crack.</summary>
    [Range(-5, 40)]
    public double ColdCelsius { get; init; } = 5;

    /// <summary>Hot or cold must last so long, in seconds. Default 20.</summary>
    [Range(0, 600)]
    public double OnDelaySeconds { get; init; } = 20;

    /// <summary>Back in range must last so long, in seconds. Default 60.</summary>
    [Range(0, 3600)]
    public double OffDelaySeconds { get; init; } = 60;

    /// <summary>To return, the temperature must pass the limit by so many kelvins. Default 0.5.</summary>
    [Range(0, 10)]
    public double DeadbandKelvins { get; init; } = 0.5;

    /// <summary>The coolant must stay so many kelvins above the room's dew point. Default 2. Higher warns sooner in humid rooms.</summary>
    [Range(0, 10)]
    public double DewPointMarginKelvins { get; init; } = 2;

    /// <summary>Too near the dew point must last so long, in seconds. Default 120.</summary>
    [Range(0, 3600)]
    public double DewPointOnDelaySeconds { get; init; } = 120;

    /// <summary>How far the present course is followed, in minutes. Default 10. Longer warns sooner and less surely.</summary>
    [Range(1, 60)]
    public double LookAheadMinutes { get; init; } = 10;

    /// <summary>Least coolant flow, L/min; null: only the machine's own usual flow counts. Default null.</summary>
    [Range(0.05, 100)]
    public double? LeastFlowLitresPerMinute { get; init; }

    /// <summary>Allowed fall below the machine's own usual flow, as a fraction. Default 0.30.</summary>
    [Range(0.05, 0.9)]
    public double FlowTolerance { get; init; } = 0.30;

    /// <summary>Low flow must last so long, in seconds. Default 5.</summary>
    [Range(0, 120)]
    public double FlowOnDelaySeconds { get; init; } = 5;

    /// <summary>Drift is not told below so many kelvins, however sure it is; the test is designed for it. Default 1.5.</summary>
    [Range(0.3, 20)]
    public double LeastDriftKelvins { get; init; } = 1.5;

    /// <summary>
    /// Years of work (of 1500 h in use) between two false alarms that drift and the heat balance are designed for. Default 10. Less
    /// finds small faults sooner.
    /// </summary>
    [Range(0.1, 1000)]
    public double DriftFalseAlarmYears { get; init; } = 10;

    /// <summary>How sure it must be that the limit is reached within the look-ahead, as a probability. Default 0.95. Lower warns sooner and less surely.</summary>
    [Range(0.5, 0.999)]
    public double LookAheadProbability { get; init; } = 0.95;

    /// <summary>What is wrong with these limits taken together, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (ColdCelsius + DeadbandKelvins >= HotCelsius - DeadbandKelvins)
            yield return "no temperature lies between 'coldCelsius' and 'hotCelsius' by more than the deadband: move them apart";
    }
}
