using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Which trend is wanted.</summary>
/// <param name="Channel">As it is stored; need not exist.</param>
/// <param name="Power">%, for tube current only; null: pooled.</param>
/// <param name="Tube">A number; null: the tube that is in now.</param>
/// <param name="AllTubes">All tubes that were in; goes before <paramref name="Tube"/>.</param>
public sealed record TrendQuestion(string Machine, string Channel, double? Power, Instant From, Instant To, int? Tube = null, bool AllTubes = false);

/// <summary>The trends, oldest tube first; or why there is none, in words.</summary>
public sealed record TrendAnswer(IReadOnlyList<ChannelTrend> Trends, string? Lack)
{
    public static TrendAnswer None(string why) => new([], why);
}
