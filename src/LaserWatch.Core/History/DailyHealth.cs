using System.Runtime.InteropServices;
using LaserWatch.Models;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>One estimate a day out of a tube's blocks.</summary>
/// <remarks>
/// The blocks of one power of a day give one robust mean (<see cref="RobustLocation"/>). Powers are put together by their certainty, and by how far they differ among
/// themselves: where a supply gives way at the top first, no one power speaks for the day (random effects: R. DerSimonian and N. Laird, Controlled Clinical
/// Trials 7 (1986) 177, from memory). What blocks of a day share, the wander, is measured from neighbouring days and added.
/// </remarks>
internal static class DailyHealth
{
    /// <summary>Two powers this near, in points, are one: nobody commands finer.</summary>
    public const double SamePower = 1;

    private const double LeastBlockError = 0.002;
    private const double LoneBlockError = 0.006;
    private const double WanderAtFirst = 0.006;
    private const double LeastWander = 0.003;

    /// <summary>Health ratios.</summary>
    /// <param name="power">%; null: all powers pooled.</param>
    public static (List<DailyEstimate> Days, double Wander) Ratios(List<TubeBlock> blocks, double? power) => Of(blocks, power, static block => block.Ratio, 1);

    /// <summary>Currents in mA at one power, as measured.</summary>
    /// <param name="scale">The size of the current, so that errors that hold for ratios can be told in mA.</param>
    public static (List<DailyEstimate> Days, double Wander) Milliamps(List<TubeBlock> blocks, double power, double scale) =>
        Of(blocks, power, static block => block.Milliamps, scale);

    private static (List<DailyEstimate> Days, double Wander) Of(List<TubeBlock> blocks, double? power, Func<TubeBlock, double> value, double scale)
    {
        List<DailyEstimate> days = [];
        List<TubeBlock> taken = [];
        List<PowerOfDay> powers = [];
        for (var i = 0; i < blocks.Count;)
        {
            var day = blocks[i].Day;
            taken.Clear();
            for (; i < blocks.Count && blocks[i].Day == day; i++)
            {
                if (power is not { } one || Math.Abs(blocks[i].Power - one) <= SamePower)
                    taken.Add(blocks[i]);
            }

            if (taken.Count > 0)
                days.Add(Pool(day, ByPower(taken, powers, value, scale, together: power is not null)));
        }

        var wander = Wander(days, scale);
        for (var i = 0; i < days.Count; i++)
            days[i] = days[i] with { Error = Math.Sqrt((days[i].Error * days[i].Error) + (wander * wander)) };
        return (days, wander);
    }

    private static double Wander(List<DailyEstimate> days, double scale)
    {
        var (times, values, within) = (new double[days.Count], new double[days.Count], new double[days.Count]);
        for (var i = 0; i < days.Count; i++)
            (times[i], values[i], within[i]) = (ChannelTrend.ToDays(days[i].At), days[i].Value, 1);
        return HealthSeries.WanderOfDays(times, values, within, WanderAtFirst * scale, LeastWander * scale);
    }

    private static List<PowerOfDay> ByPower(List<TubeBlock> day, List<PowerOfDay> powers, Func<TubeBlock, double> value, double scale, bool together)
    {
        powers.Clear();
        day.Sort(static (a, b) => a.Power != b.Power ? a.Power.CompareTo(b.Power) : a.At.CompareTo(b.At));
        var blocks = CollectionsMarshal.AsSpan(day);
        var values = new double[blocks.Length];
        for (var first = 0; first < blocks.Length;)
        {
            var last = first;
            double time = 0, error = 0;
            for (; last < blocks.Length && (together || blocks[last].Power == blocks[first].Power); last++)
            {
                values[last] = value(blocks[last]);
                time += blocks[last].At - blocks[0].At;
                error += blocks[last].ExpectedError;
            }

            var count = last - first;
            var (location, deviation) = RobustLocation.Of(values.AsSpan(first, count));
            var ofOne = scale * (count < 3 ? LoneBlockError : Math.Max(deviation / scale, LeastBlockError));
            powers.Add(new(location, ofOne * ofOne / count, scale * error / count, blocks[0].At + (time / count), count));
            first = last;
        }

        return powers;
    }

    private static DailyEstimate Pool(long day, List<PowerOfDay> powers)
    {
        var apart = Apart(powers);
        double weights = 0, value = 0, time = 0, variance = 0;
        var count = 0;
        foreach (var power in powers)
        {
            var weight = power.Weight(apart);
            weights += weight;
            value += weight * power.Value;
            time += weight * (power.At - powers[0].At);
            variance += weight * weight * power.Variance;
            count += power.Count;
        }

        return new(
            new Instant((long)(powers[0].At + (time / weights))), DateOnly.FromDateTime(DateTime.UnixEpoch.AddDays(day)),
            value / weights, Math.Sqrt(variance) / weights, count);
    }

    // The variance between powers beyond what their own errors explain.
    private static double Apart(List<PowerOfDay> powers)
    {
        double weights = 0, squares = 0, mean = 0, spread = 0;
        foreach (var power in powers)
        {
            weights += power.Weight(0);
            squares += power.Weight(0) * power.Weight(0);
            mean += power.Weight(0) * power.Value;
        }

        mean /= weights;
        foreach (var power in powers)
            spread += power.Weight(0) * (power.Value - mean) * (power.Value - mean);
        var free = weights - (squares / weights);
        return powers.Count < 2 || free <= 0 ? 0 : Math.Max(0, (spread - (powers.Count - 1)) / free);
    }

    private readonly record struct PowerOfDay(double Value, double Variance, double BaselineError, double At, int Count)
    {
        public double Weight(double apart) => 1 / (Variance + (BaselineError * BaselineError) + apart);
    }
}
