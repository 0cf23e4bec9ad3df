using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>From when on a channel could be seen to be off what it was at the same job before the fault.</summary>
/// <param name="What">The channel, or the difference of two.</param>
public sealed record Departure(string What, string Unit, Instant At, double Value, double Usual, string Job);

/// <summary>What an attentive eye could have seen, and when.</summary>
/// <remarks>
/// Off means: two minutes one after the other, of one job, on the same side, by more than four spreads of the minutes before and by more than
/// two parts in a hundred (half a degree for temperatures). The room's own channels, the beam and the hour meter are left out; what the coolant gains
/// on its way through the tube is looked at beside its two temperatures, which wander with the room.
/// </remarks>
public static class FirstDepartures
{
    private const double Spreads = 4;
    private const double LeastShare = 0.02;
    private const double LeastDegrees = 0.5;
    private const int FewestBefore = 3;

    public const string CoolantRise = "coolant_out less coolant_in";

    private static readonly Channel[] LeftOut = [Channel.Lasing, Channel.Runtime, Channel.AmbientTemperature, Channel.AmbientHumidity];

    /// <param name="began">When it began to go wrong.</param>
    public static IReadOnlyList<Departure> Of(ChannelMinutes minutes, Instant began) =>
        [.. minutes.Channels.Where(c => !LeftOut.Contains(c)).Select(c => First(c.Name, c.Unit, minutes.Of(c), began))
            .Append(First(CoolantRise, Channel.CoolantOut.Unit, Rise(minutes), began))
            .OfType<Departure>().OrderBy(d => d.At)];

    /// <summary>Minutes that both temperatures have; they come in one line, mostly.</summary>
    private static List<ChannelMinute> Rise(ChannelMinutes minutes)
    {
        var into = minutes.Of(Channel.CoolantIn).ToDictionary(m => m.From, m => m.Median);
        return [.. minutes.Of(Channel.CoolantOut).Where(m => into.ContainsKey(m.From)).Select(m => m with { Median = m.Median - into[m.From] })];
    }

    private static Departure? First(string what, string unit, IReadOnlyList<ChannelMinute> minutes, Instant began)
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

            var least = unit == "°C" ? LeastDegrees : LeastShare * Math.Abs(known.Usual);
            var off = minute.Median - known.Usual;
            var side = Math.Abs(off) > Math.Max(Spreads * known.Spread, least) ? Math.Sign(off) : 0;
            if (side != 0 && last is { } first && first.Side == side && first.Minute.Job == minute.Job)
                return new Departure(what, unit, first.Minute.From, first.Minute.Median, known.Usual, minute.Job);
            last = side == 0 ? null : (minute, side);
        }

        return null;
    }
}
