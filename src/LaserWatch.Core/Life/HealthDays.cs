using LaserWatch.Models;
using LaserWatch.Trends;

namespace LaserWatch.Life;

/// <summary>A tube's health as one estimate a day, ready for <see cref="LifeProjection"/>.</summary>
/// <param name="Days">Days since 1970, rising.</param>
/// <param name="Ratios">Measured current / baseline.</param>
/// <param name="Errors">Standard errors, the wander of the day (mains, room) taken in: it is shared by all stints of a day and forgotten by the next.</param>
internal sealed record HealthDays(double[] Days, double[] Ratios, double[] Errors)
{
    private const double OneDay = 0.6;

    /// <summary>After a sudden change only what came since is taken: a step is no ageing, and would be projected as if it were.</summary>
    public static HealthDays Of(HealthSeries series, ChangeFinding change, double wander)
    {
        var from = change.Kind == ChangeKind.Step ? change.BeganToDays : double.NegativeInfinity;
        List<double> days = [], ratios = [], errors = [];
        for (var i = 0; i < series.Count;)
        {
            var first = i;
            double weights = 0, day = 0, ratio = 0;
            for (; i < series.Count && (i == first || (series.DaysWithin[i] <= 1 && series.DaysWithin[first] <= 1 && series.Days[i] - series.Days[first] <= OneDay)); i++)
            {
                var weight = 1 / series.Variances[i];
                weights += weight;
                day += weight * series.Days[i];
                ratio += weight * series.Ratios[i];
            }

            if (series.Days[first] < from || (days.Count > 0 && day / weights <= days[^1]))
                continue;
            days.Add(day / weights);
            ratios.Add(ratio / weights);
            errors.Add(Math.Sqrt((1 / weights) + (wander * wander / Math.Max(1, series.DaysWithin[first]))));
        }

        return new([.. days], [.. ratios], [.. errors]);
    }
}
