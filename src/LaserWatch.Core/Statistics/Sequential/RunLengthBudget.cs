namespace LaserWatch.Statistics;

/// <summary>From how rarely a machine may raise a false alarm to the run length in control that each of its charts needs.</summary>
/// <remarks>
/// False alarms of well-designed charts come as a Poisson process, so the rates of charts add up (the union bound: charts that
/// move together raise fewer).
/// </remarks>
/// <param name="YearsBetweenFalseAlarms">Mean machine-years between false alarms, of all charts together.</param>
/// <param name="WatchedHoursPerYear">Hours in a year in which charts take samples, such as beam hours.</param>
/// <param name="Charts">How many charts share the budget; a two-sided chart is one.</param>
public readonly record struct RunLengthBudget(double YearsBetweenFalseAlarms, double WatchedHoursPerYear, int Charts = 1)
{
    /// <summary>Mean samples between false alarms for one chart that takes an independent sample (or block) every <paramref name="interval"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A part of the budget, or the interval, is not above 0.</exception>
    public double RunLength(TimeSpan interval)
    {
        if (!(YearsBetweenFalseAlarms > 0) || !(WatchedHoursPerYear > 0) || Charts < 1)
            throw new ArgumentOutOfRangeException(nameof(interval), this, "A budget needs years, hours and charts above 0.");
        if (interval <= TimeSpan.Zero)
            throw new ArgumentOutOfRangeException(nameof(interval), interval, "The interval between samples must be above 0.");
        return YearsBetweenFalseAlarms * WatchedHoursPerYear * Charts / interval.TotalHours;
    }
}
