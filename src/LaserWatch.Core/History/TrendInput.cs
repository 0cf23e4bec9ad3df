using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>What a trend is made of; see <see cref="ChannelTrend"/> for the parts that pass through.</summary>
internal sealed record TrendInput(string Machine, Channel Channel, string What, string Unit, IReadOnlyList<DailyEstimate> Days)
{
    public double Confidence { get; init; } = 0.90;

    /// <summary>Days stray by so much, as a standard deviation, in <see cref="Unit"/>; it is part of each day's error.</summary>
    public double Wander { get; init; }

    /// <summary>A health ratio: steps and ramps are looked for, and the end of life is projected by the process with drift.</summary>
    public bool IsHealthRatio { get; init; }

    public IReadOnlyList<TrendThreshold> Thresholds { get; init; } = [];

    public IReadOnlyList<ServiceMark> Services { get; init; } = [];

    /// <summary>Time that the store knows it lacks.</summary>
    public IReadOnlyList<TrendGap> KnownGaps { get; init; } = [];

    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>How the daily estimates came about.</summary>
    public IReadOnlyList<string> Method { get; init; } = [];
}
