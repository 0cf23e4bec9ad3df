using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>What one day's samples say of a channel, or of a tube's health.</summary>
/// <param name="At">The middle of what the day's estimate was made of, weighted as the estimate is.</param>
/// <param name="Day">The UTC day.</param>
/// <param name="Value">In the channel's unit; a health ratio (measured current / baseline) has none.</param>
/// <param name="Error">Standard error, in the same unit, with what all of a day shares (mains, room, warm tube) taken in, as far as it is known.</param>
/// <param name="Count">Of how many blocks of steady beam (tube current) or minutes (other channels) it is made; 1 or more.</param>
public sealed record DailyEstimate(Instant At, DateOnly Day, double Value, double Error, int Count);
