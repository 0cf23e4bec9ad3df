using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>A tube's health ratio over its life: the newest stints singly, what is older by day, what is older still by week.</summary>
/// <remarks>
/// A few hundred points hold years. Each is the mean of the stints in it, weighted by their certainty, with the variance of its own error and
/// the number of days it was taken over.
/// </remarks>
public sealed class HealthSeries
{
    private const int MostStints = 24;
    private const int MostDays = 60;
    private const int MostWeeks = 208;
    private const double DayMostApart = 0.6;
    private const double WeekMostApart = 7;

    // A machine that has just begun must not pay for years.
    private const int AtFirst = 8;

    private const int Most = MostStints + MostDays + MostWeeks + 4;

    private double[] _days = new double[AtFirst];
    private double[] _ratios = new double[AtFirst];
    private double[] _variances = new double[AtFirst];

    // 0: a single stint; 1: the stints of a day; more: the days of a week.
    private double[] _daysWithin = new double[AtFirst];
    private double[] _powers = new double[AtFirst];
    private int _count;

    /// <summary>Times, in days since 1970, rising.</summary>
    public ReadOnlySpan<double> Days => _days.AsSpan(0, _count);

    /// <summary>Measured current / baseline.</summary>
    public ReadOnlySpan<double> Ratios => _ratios.AsSpan(0, _count);

    /// <summary>Variance of each ratio's own error, without the wander of the day.</summary>
    public ReadOnlySpan<double> Variances => _variances.AsSpan(0, _count);

    /// <summary>The number of days each point is a mean of; 0 for a single stint.</summary>
    public ReadOnlySpan<double> DaysWithin => _daysWithin.AsSpan(0, _count);

    /// <summary>The mean power each point was seen at, %.</summary>
    public ReadOnlySpan<double> Powers => _powers.AsSpan(0, _count);

    public int Count => _count;

    internal static double ToDays(Instant at) => at.UnixNanoseconds / 86_400e9;

    internal static Instant FromDays(double days) => new((long)(days * 86_400e9));

    internal void Add(Instant at, double ratio, double variance, double power)
    {
        Grow(_count + 1);
        Set(_count++, ToDays(at), ratio, variance, 0, power);
        var (stints, days, firstDay) = (0, 0, 0);
        for (var i = _count - 1; i >= 0; i--)
        {
            if (_daysWithin[i] == 0)
                stints++;
            else if (_daysWithin[i] == 1)
                (days, firstDay) = (days + 1, i);
        }

        if (stints > MostStints)
            Merge(_count - stints, DayMostApart, ofDays: false);
        if (days > MostDays)
            Merge(firstDay, WeekMostApart, ofDays: true);
        if (_count > Most - 2)
            Remove(0, 1);
    }

    internal void Clear() => _count = 0;

    /// <summary>How far the ratio strays from day to day, as a standard deviation; from neighbouring days, so neither ageing nor one step counts.</summary>
    /// <param name="expected">What is taken for true before there are many days; it weighs as eight days.</param>
    /// <param name="least">Never below this.</param>
    internal double WanderOfDays(double expected, double least) => WanderOfDays(Days, Ratios, DaysWithin, expected, least);

    /// <summary>The same, of any series: times in days, values, and of how many days each is a mean.</summary>
    internal static double WanderOfDays(ReadOnlySpan<double> times, ReadOnlySpan<double> values, ReadOnlySpan<double> daysWithin, double expected, double least)
    {
        const int Weight = 8;
        Span<double> apart = times.Length <= Most ? stackalloc double[Most] : new double[times.Length];
        var count = 0;
        for (var i = 1; i < times.Length; i++)
        {
            if (daysWithin[i - 1] <= 1 && times[i] - times[i - 1] is >= 0.3 and <= 5)
                apart[count++] = Math.Abs(values[i] - values[i - 1]);
        }

        if (count == 0)
            return Math.Max(expected, least);
        // Half of the squared difference of two independent days is one day's variance.
        var seen = 1.4826 * RobustLocation.Median(apart[..count]) / Math.Sqrt(2);
        return Math.Max(least, Math.Sqrt(((Weight * expected * expected) + (count * seen * seen)) / (Weight + count)));
    }

    internal void Visit(StateVisitor state)
    {
        state.Walk(ref _count);
        if (_count is < 0 or > Most)
            StateVisitor.Refuse();
        Grow(_count);
        for (var i = 0; i < _count; i++)
        {
            state.Walk(ref _days[i]);
            state.Walk(ref _ratios[i]);
            state.Walk(ref _variances[i]);
            state.Walk(ref _daysWithin[i]);
            state.Walk(ref _powers[i]);
        }
    }

    // Merges the first point and its followers of the same kind that lie close enough into one.
    private void Merge(int first, double mostApart, bool ofDays)
    {
        var last = first;
        while (last + 1 < _count && _daysWithin[last + 1] == _daysWithin[first] && _days[last + 1] - _days[first] <= mostApart)
            last++;
        double weights = 0, days = 0, ratios = 0, powers = 0;
        for (var i = first; i <= last; i++)
        {
            var weight = 1 / _variances[i];
            weights += weight;
            days += weight * _days[i];
            ratios += weight * _ratios[i];
            powers += weight * _powers[i];
        }

        Set(first, days / weights, ratios / weights, 1 / weights, ofDays ? Math.Max(last - first + 1, 2) : 1, powers / weights);
        Remove(first + 1, last - first);
    }

    private void Grow(int count)
    {
        if (count <= _days.Length)
            return;
        var size = Math.Min(Math.Max(count, 2 * _days.Length), Most);
        Array.Resize(ref _days, size);
        Array.Resize(ref _ratios, size);
        Array.Resize(ref _variances, size);
        Array.Resize(ref _daysWithin, size);
        Array.Resize(ref _powers, size);
    }

    private void Set(int place, double days, double ratio, double variance, double within, double power) =>
        (_days[place], _ratios[place], _variances[place], _daysWithin[place], _powers[place]) = (days, ratio, variance, within, power);

    private void Remove(int first, int count)
    {
        for (var i = first; i + count < _count; i++)
            Set(i, _days[i + count], _ratios[i + count], _variances[i + count], _daysWithin[i + count], _powers[i + count]);
        _count -= count;
    }
}
