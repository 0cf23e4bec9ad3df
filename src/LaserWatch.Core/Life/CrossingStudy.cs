namespace LaserWatch.Life;

/// <summary>How well the crossing of a level is foretold on a set of units that were followed to it: each hidden from some time on, in turn.</summary>
/// <param name="ByPopulation">Predictions from the unit's own readings and the other units (leave one out).</param>
/// <param name="Alone">Predictions from the unit's own readings only.</param>
public sealed record CrossingStudy(IReadOnlyList<CrossingForecast> ByPopulation, IReadOnlyList<CrossingForecast> Alone)
{
    /// <summary>Each unit is seen up to half of its own life.</summary>
    /// <param name="units">At least three.</param>
    /// <param name="level">The level whose crossing ends a life.</param>
    /// <param name="confidence">Of the intervals, above 0 and below 1.</param>
    /// <remarks>
    /// A unit's life is where its readings cross the level, or, where they end before, where their least-squares line does: a pseudo failure
    /// time, which is itself an extrapolation.
    /// </remarks>
    public static CrossingStudy AtHalfLife(IReadOnlyList<DegradationPath> units, double level, double confidence) =>
        Of(units, level, confidence, life => life / 2);

    /// <summary>As <see cref="AtHalfLife"/>, all units seen to the same time.</summary>
    public static CrossingStudy At(double time, IReadOnlyList<DegradationPath> units, double level, double confidence) =>
        Of(units, level, confidence, _ => time);

    private static CrossingStudy Of(IReadOnlyList<DegradationPath> units, double level, double confidence, Func<double, double> seenTo)
    {
        if (units.Count < 3)
            throw new ArgumentException($"{units.Count} units are too few to leave one out.", nameof(units));
        if (!(confidence > 0 && confidence < 1))
            throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence lies between 0 and 1.");
        List<CrossingForecast> population = [];
        List<CrossingForecast> alone = [];
        foreach (var unit in units)
        {
            var observed = unit.Crossing(level);
            var life = observed ?? unit.LineCrossing(level);
            var seen = unit.Until(seenTo(life));
            var others = UnitRateProcess.Fit([.. units.Where(u => u != unit)]);
            population.Add(Forecast(others.Predict(seen, level)));
            alone.Add(Forecast(CrossingLaw.Alone(seen, level)));

            CrossingForecast Forecast(CrossingLaw law) => new(
                unit.Unit, seen.Times[^1], life, observed is not null,
                law.Quantile((1 - confidence) / 2), law.Quantile(0.5), law.Quantile((1 + confidence) / 2));
        }

        return new(population, alone);
    }
}

/// <summary>One unit's crossing, foretold and true; all in the unit of the study's times.</summary>
/// <param name="Life">When it crossed.</param>
/// <param name="Observed">Its readings reach the level; else the life is a pseudo failure time.</param>
public sealed record CrossingForecast(string Unit, double SeenTo, double Life, bool Observed, double Low, double Median, double High)
{
    public bool Covers => Low <= Life && Life <= High;

    public static double Coverage(IReadOnlyList<CrossingForecast> forecasts) => forecasts.Count(f => f.Covers) / (double)forecasts.Count;

    /// <summary>Mean width of the intervals, as a part of the life.</summary>
    public static double Width(IReadOnlyList<CrossingForecast> forecasts) => forecasts.Average(f => (f.High - f.Low) / f.Life);

    /// <summary>Mean distance of the medians from the lives, as a part of the life.</summary>
    public static double Error(IReadOnlyList<CrossingForecast> forecasts) => forecasts.Average(f => Math.Abs(f.Median - f.Life) / f.Life);
}
