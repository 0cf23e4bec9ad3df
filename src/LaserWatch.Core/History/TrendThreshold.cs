namespace LaserWatch.History;

/// <summary>A level that means something for a trend.</summary>
/// <param name="Name">Short, such as <c>sag</c> or <c>end of life</c>.</param>
/// <param name="Value">In the trend's unit.</param>
/// <param name="Above">True where what lies above it is bad; false where what lies below.</param>
/// <param name="Meaning">In words, such as <c>a fall of 5 % counts as sag (rules.tubeCurrent.sag)</c>.</param>
public sealed record TrendThreshold(string Name, double Value, bool Above, string Meaning);

/// <summary>When a trend will meet a threshold, or why that cannot be said.</summary>
/// <param name="Threshold">The one asked about; null where there is none for this channel.</param>
/// <param name="Earliest">Lower end of the interval.</param>
/// <param name="Median">As likely before as after; null: farther than can be looked.</param>
/// <param name="Latest">Upper end of the interval; null: farther than can be looked.</param>
/// <param name="Refusal">Why there is no date, in words; null where there is one.</param>
/// <param name="Passed">The line is beyond the threshold already.</param>
public sealed record TrendProjection(
    TrendThreshold? Threshold, Telemetry.Instant? Earliest, Telemetry.Instant? Median, Telemetry.Instant? Latest, string? Refusal, bool Passed = false);

/// <summary>A stretch of time for which there is no estimate.</summary>
public sealed record TrendGap(Telemetry.Instant From, Telemetry.Instant To, string Why);
