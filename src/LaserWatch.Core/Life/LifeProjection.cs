using LaserWatch.Trends;

namespace LaserWatch.Life;

/// <summary>When a falling health ratio will reach its end-of-life threshold, by two ways; or why that cannot be said.</summary>
/// <param name="Refusal">Why there is no projection, in words; null where there is one. A projection needs a significant trend (in the sense of ISO 13381-1, from memory).</param>
/// <param name="Trend">The rank test, with autocorrelation; null where there were too few estimates for it.</param>
/// <param name="Line">The robust line, its interval widened for autocorrelation; null as before.</param>
/// <param name="LineCrossing">Where the robust line meets the threshold; <see cref="Span.High"/> null: Sen's interval reaches beyond what is looked at.</param>
/// <param name="Crossing">Prediction interval and median by the process with drift: wander to come, errors of measurement and what is not known of the parameters taken in. This is the one to plan by.</param>
/// <remarks>All times are in the unit of the times given, from the same zero.</remarks>
public sealed record LifeProjection(string? Refusal, MannKendall? Trend, TheilSen? Line, LifeProjection.Span? LineCrossing, LifeProjection.Span? Crossing)
{
    /// <summary>Fewer estimates than this project nothing.</summary>
    public const int LeastEstimates = 8;

    /// <summary>Two-sided; a trend less sure than this is none.</summary>
    public const double Significance = 0.05;

    // How many times the length of the series is looked ahead: what lies beyond is no projection but a guess.
    private const double Farthest = 20;

    // Diffusion over the length of the series, in residual deviations; the likelihood weighs them.
    private static readonly double[] Diffusions = [0, 0.1, 0.2, 0.35, 0.55, 0.8, 1.1, 1.5, 2, 2.7, 3.6, 5, 7];

    // Error of measurement beyond the standard errors given, in residual deviations.
    private static readonly double[] Extras = [0, 0.25, 0.5, 0.75, 1, 1.3, 1.7];

    private WienerCrossing? _law;
    private double _last;

    /// <summary>The fall is significant and the line is at or below the threshold already.</summary>
    public bool Passed { get; private init; }

    /// <summary>An interval of times, and the middle of it; null ends are farther than can be looked.</summary>
    public readonly record struct Span(double Low, double? Median, double? High);

    /// <summary>Probability that the threshold is reached by a time; null without a projection.</summary>
    public double? ProbabilityBy(double time) => _law?.Probability(time - _last);

    /// <summary>Projects a series of estimates.</summary>
    /// <param name="times">Rising: days or beam hours.</param>
    /// <param name="ratios">Estimates of the health ratio at those times, such as one a day.</param>
    /// <param name="errors">Their standard errors; 0 where not known: then they are estimated.</param>
    /// <param name="threshold">Ratio at which the life ends. Default 0.85 (common practice, no source).</param>
    /// <param name="confidence">Of all intervals. Default 0.90.</param>
    /// <exception cref="ArgumentException">Lengths differ, times do not rise, or a value is not finite.</exception>
    public static LifeProjection Project(
        ReadOnlySpan<double> times, ReadOnlySpan<double> ratios, ReadOnlySpan<double> errors, double threshold = 0.85, double confidence = 0.90)
    {
        Check(times, ratios, errors);
        if (times.Length < LeastEstimates)
            return new($"{times.Length} estimates are too few: {LeastEstimates} are the least", null, null, null, null);
        if (times.Length > TheilSen.MostPoints)
            return Project(times[^TheilSen.MostPoints..], ratios[^TheilSen.MostPoints..], errors[^TheilSen.MostPoints..], threshold, confidence);

        var trend = MannKendall.Test(ratios);
        var line = TheilSen.Fit(times, ratios, confidence, trend.Factor);
        if (trend.S >= 0)
            return new("the ratio does not fall", trend, line, null, null);
        if (trend.P > Significance || line.High >= 0)
            return new("the fall is not significant", trend, line, null, null);
        if (line.At(times[^1]) <= threshold)
            return new("the threshold is passed already", trend, line, null, null) { Passed = true };

        var last = times[^1];
        var farthest = Farthest * (last - times[0]);
        var law = Law(times, ratios, errors, line, threshold);
        if (law.Quantile((1 - confidence) / 2, farthest) is not { } low)
            return new("the threshold is farther away than the series allows to look", trend, line, null, null);
        var crossing = new Span(last + low, last + law.Quantile(0.5, farthest), last + law.Quantile((1 + confidence) / 2, farthest));
        return new(null, trend, line, Meet(line, times, threshold, last + farthest), crossing) { _law = law, _last = last };
    }

    private static void Check(ReadOnlySpan<double> times, ReadOnlySpan<double> ratios, ReadOnlySpan<double> errors)
    {
        if (times.Length != ratios.Length || times.Length != errors.Length)
            throw new ArgumentException($"There are {times.Length} times, {ratios.Length} ratios and {errors.Length} errors.", nameof(times));
        for (var i = 0; i < times.Length; i++)
        {
            if (!double.IsFinite(times[i]) || !double.IsFinite(ratios[i]) || !double.IsFinite(errors[i]) || errors[i] < 0)
                throw new ArgumentException($"Estimate {i} is not finite, or its error is below 0.", nameof(times));
            if (i > 0 && times[i] <= times[i - 1])
                throw new ArgumentException($"Time {times[i]} does not come after {times[i - 1]}.", nameof(times));
        }
    }

    // About the median of the points, where Sen's slopes turn.
    private static Span Meet(TheilSen line, ReadOnlySpan<double> times, double threshold, double farthest)
    {
        var centre = times[times.Length / 2];
        var above = line.At(centre) - threshold;
        double? At(double slope) => centre + (above / -slope) is var time && time <= farthest ? time : null;
        return new(At(line.Low) ?? farthest, At(line.Slope), At(line.High));
    }

    /// <summary>Mixes the diffusions and the extra errors by their likelihoods, with priors flat in the deviations themselves.</summary>
    private static WienerCrossing Law(ReadOnlySpan<double> times, ReadOnlySpan<double> ratios, ReadOnlySpan<double> errors, TheilSen line, double threshold)
    {
        var scale = ResidualDeviation(times, ratios, line);
        var variances = new double[times.Length];
        var states = new List<(WienerDegradation State, double Diffusion, double LogWeight)>();
        for (var e = 0; e < Extras.Length; e++)
        {
            for (var i = 0; i < variances.Length; i++)
            {
                // A wild day counts by its distance: three deviations off is the most a Gaussian lets pass.
                var off = Math.Abs(ratios[i] - line.At(times[i])) / 3;
                var variance = (errors[i] * errors[i]) + (Extras[e] * scale * Extras[e] * scale);
                variances[i] = Math.Max(Math.Max(variance, 1e-6 * scale * scale), off > 1.5 * scale ? off * off : 0);
            }

            for (var d = 0; d < Diffusions.Length; d++)
            {
                var diffusion = Diffusions[d] * scale / Math.Sqrt(times[^1] - times[0]);
                var state = WienerDegradation.Of(times, ratios, variances, diffusion);
                states.Add((state, diffusion, state.LogLikelihood + Math.Log(Width(Diffusions, d) * (Width(Extras, e) + (e == 0 ? 0.5 : 0)))));
            }
        }

        var highest = states.Max(s => s.LogWeight);
        var total = states.Sum(s => Math.Exp(s.LogWeight - highest));
        var law = new WienerCrossing();
        foreach (var (state, diffusion, logWeight) in states)
        {
            if (Math.Exp(logWeight - highest) is var weight && weight > 1e-4)
                law.Add(state, diffusion, threshold, weight / total);
        }

        return law;
    }

    private static double Width(double[] grid, int at) => (grid[Math.Min(at + 1, grid.Length - 1)] - grid[Math.Max(at - 1, 0)]) / 2;

    private static double ResidualDeviation(ReadOnlySpan<double> times, ReadOnlySpan<double> ratios, TheilSen line)
    {
        var rests = new double[times.Length];
        for (var i = 0; i < rests.Length; i++)
            rests[i] = Math.Abs(ratios[i] - line.At(times[i]));
        // 1.4826: of the median of absolute deviations to the standard deviation of a Gaussian. Never 0: sensors that show few digits leave no rest at all.
        return Math.Max(1.4826 * RankSums.Median(rests), 1e-5);
    }
}
