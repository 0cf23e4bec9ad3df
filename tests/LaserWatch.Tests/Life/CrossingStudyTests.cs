using Xunit.Abstractions;

namespace LaserWatch.Life;

/// <summary>Judged on the open laser degradation data, where they are at hand.</summary>
public class CrossingStudyTests(ITestOutputHelper output)
{
    private const double Failed = 10;

    // Parameters and criteria: Morita et al. 2021, doi 10.1002/qre.2762 (as quoted; the paper was not at hand).
    [SkippableFact]
    public void The_published_inverse_Gaussian_process_is_found_again()
    {
        var fit = InverseGaussianProcess.Fit(LaserDegradationData.ReadOrSkip());

        output.WriteLine($"{fit}, AIC {fit.Aic:0.00}");
        Assert.Equal((2.038, 13.15, -146.2), (Math.Round(fit.Rate, 3), Math.Round(fit.Evenness, 2), Math.Round(fit.Aic, 1)));
    }

    [SkippableFact]
    public void The_published_gamma_frailty_is_found_again()
    {
        var fit = GammaFrailtyProcess.Fit(LaserDegradationData.ReadOrSkip());

        output.WriteLine($"{fit}, AIC {fit.Aic:0.00}");
        Assert.Equal((2.052, 15.17, 0.210, -174.7), (Math.Round(fit.Rate, 3), Math.Round(fit.Evenness, 2), Math.Round(fit.Frailty, 3), Math.Round(fit.Aic, 1)));
    }

    [SkippableFact]
    public void Units_that_differ_in_their_rates_fit_better_than_the_published_frailty()
    {
        var fit = UnitRateProcess.Fit(LaserDegradationData.ReadOrSkip());

        output.WriteLine($"{fit}, AIC {fit.Aic:0.00}");
        Assert.InRange(fit.Aic, -190.5, -189);
    }

    // Least-squares pseudo failure hours: the list of Meeker and Escobar (from memory), computed from the data; Weibull on them: shape 6.41, scale 5508 h (computed).
    [SkippableFact]
    public void The_pseudo_failure_times_and_their_Weibull_law_are_those_of_the_book()
    {
        var lives = LaserDegradationData.ReadOrSkip().Select(u => 1000 * u.LineCrossing(Failed)).ToList();

        Assert.Equal(
            [3702, 4194, 5847, 6172, 5301, 3592, 6051, 6538, 5110, 3306, 5326, 4995, 4721, 5689, 6102], lives.Select(l => Math.Round(l)));
        var fit = WeibullFit.Of(lives, []);
        Assert.Equal((6.41, 5508), (Math.Round(fit.Shape, 2), Math.Round(fit.Scale)));
    }

    [SkippableFact]
    public void Crossings_of_units_seen_to_half_life_lie_in_the_ninety_percent_intervals_as_often_as_promised()
    {
        var units = LaserDegradationData.ReadOrSkip();

        var half = CrossingStudy.AtHalfLife(units, Failed, 0.90);
        Print("seen to half life, with the other units", half.ByPopulation);
        Print("seen to half life, alone", half.Alone);
        var early = CrossingStudy.At(2, units, Failed, 0.90);
        Print("seen to 2000 h, with the other units", early.ByPopulation);
        Print("seen to 2000 h, alone", early.Alone);

        Assert.True(CrossingForecast.Coverage(half.ByPopulation) >= 0.85);
        Assert.True(CrossingForecast.Coverage(half.Alone) >= 0.85);
    }

    [SkippableTheory]
    [InlineData(0.5, 13)]
    [InlineData(0.6, 15)]
    public void The_projection_of_a_health_ratio_covers_the_crossings_of_the_same_units(double part, int least)
    {
        List<CrossingForecast> forecasts = [];
        foreach (var unit in LaserDegradationData.ReadOrSkip())
        {
            var life = unit.Crossing(Failed) ?? unit.LineCrossing(Failed);
            var seen = unit.Until(life * part);
            var projection = LifeProjection.Project(
                [.. seen.Times], [.. seen.Values.Select(v => 1 - (v / 100))], new double[seen.Times.Count], 1 - (Failed / 100));
            if (projection.Crossing is { Median: { } median, High: { } high } crossing)
                forecasts.Add(new(unit.Unit, seen.Times[^1], life, unit.Crossing(Failed) is not null, crossing.Low, median, high));
            else
                output.WriteLine($"  {unit.Unit} not projected: {projection.Refusal}");
        }

        Print($"seen to {part:0.0} of the life, by the projection of one machine's ratio", forecasts);
        Assert.True(forecasts.Count >= least);
        Assert.True(CrossingForecast.Coverage(forecasts) >= 0.85);
    }

    private void Print(string what, IReadOnlyList<CrossingForecast> forecasts)
    {
        output.WriteLine($"{what}: covered {forecasts.Count(f => f.Covers)} of {forecasts.Count}, mean width {CrossingForecast.Width(forecasts):0.00} of the life, mean error {CrossingForecast.Error(forecasts):0.00}");
        foreach (var f in forecasts)
            output.WriteLine($"  {f.Unit}{(f.Observed ? "*" : " ")} seen to {1000 * f.SeenTo:0} h: {1000 * f.Low:0} .. {1000 * f.Median:0} .. {1000 * f.High:0}, life {1000 * f.Life:0} {(f.Covers ? "" : "MISSED")}");
    }
}
