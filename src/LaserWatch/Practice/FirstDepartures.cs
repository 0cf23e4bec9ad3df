using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>From when on a channel could be seen to be off what it was at the same job before the fault.</summary>
/// <param name="Job">Null: at rest.</param>
public sealed record Departure(Channel Channel, Instant At, double Value, double Usual, string? Job);

/// <summary>What an attentive eye could have seen, and when.</summary>
/// <remarks>
/// Off means: two minutes one after the other, of one job, on the same side, by more than four spreads of the minutes before and by more than
/// two parts in a hundred (half a degree for temperatures). The room's own channels, the beam and the hour meter are left out.
/// </remarks>
public static class FirstDepartures
{
    private const double Spreads = 4;
    private const double LeastShare = 0.02;
    private const double LeastDegrees = 0.5;
    private const int FewestBefore = 3;

    private static readonly Channel[] LeftOut = [Channel.Lasing, Channel.Runtime, Channel.AmbientTemperature, Channel.AmbientHumidity];

    /// <param name="began">When it began to go wrong.</param>
    public static IReadOnlyList<Departure> Of(ChannelMinutes minutes, Instant began) =>
        [.. minutes.Channels.Where(c => !LeftOut.Contains(c)).Select(c => First(c, minutes.Of(c), began)).OfType<Departure>().OrderBy(d => d.At)];

    private static Departure? First(Channel channel, IReadOnlyList<ChannelMinute> minutes, Instant began)
    {
        // The minute in which it began holds both, and is neither.
        var before = minutes.Where(m => m.From + TimeSpan.FromMinutes(1) <= began && m.Job is not null)
            .GroupBy(m => m.Job!).Where(job => job.Count() >= FewestBefore)
            .ToDictionary(job => job.Key, job => (Usual: Middle.Of([.. job.Select(m => m.Median)]), Spread: Middle.SpreadOf([.. job.Select(m => m.Median)])));
        (ChannelMinute Minute, int Side)? last = null;
        foreach (var minute in minutes.Where(m => m.From >= began))
        {
            if (minute.Job is null || !before.TryGetValue(minute.Job, out var known))
            {
                last = null;
                continue;
            }

            var least = channel.Unit == "°C" ? LeastDegrees : LeastShare * Math.Abs(known.Usual);
            var off = minute.Median - known.Usual;
            var side = Math.Abs(off) > Math.Max(Spreads * known.Spread, least) ? Math.Sign(off) : 0;
            if (side != 0 && last is { } first && first.Side == side && first.Minute.Job == minute.Job)
                return new Departure(channel, first.Minute.From, first.Minute.Median, known.Usual, minute.Job);
            last = side == 0 ? null : (minute, side);
        }

        return null;
    }
}
