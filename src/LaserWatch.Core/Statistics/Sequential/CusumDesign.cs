using MathNet.Numerics.Distributions;

namespace LaserWatch.Statistics;

/// <summary>The numbers of a tabular CUSUM, for samples standardised to mean 0 and standard deviation 1 while in control.</summary>
/// <remarks>
/// Page 1954, Biometrika 41:100; the head start (fast initial response) is of Lucas and Crosier 1982, Technometrics 24:199 (both from memory).
/// Run lengths are exact for independent normal samples to about 1e-6 of their value; for coloured noise see <see cref="Ar1CusumDesign"/>.
/// </remarks>
/// <param name="ReferenceValue">k, in σ: a mean below it leaves the sum near 0.</param>
/// <param name="DecisionInterval">h, in σ: the alarm is at a sum above it.</param>
/// <param name="HeadStart">Value of both sums at the start and after a reset, in σ; below h.</param>
/// <param name="TwoSided">Whether falls are watched too.</param>
public sealed record CusumDesign(double ReferenceValue, double DecisionInterval, double HeadStart, bool TwoSided)
{
    /// <summary>Smallest shift a design is made for, in σ.</summary>
    public const double LeastShift = 0.02;

    /// <summary>The design that finds a lasting shift of the given size soonest, at the given mean time between false alarms.</summary>
    /// <remarks>
    /// k is half the shift, which makes the CUSUM the exact optimum of Lorden's worst-case delay (Moustakides 1986, Annals of Statistics 14:1379, from memory);
    /// h is solved from the integral equation to 1e-9. Where one sample of such a shift would say more than the wanted run length
    /// asks for, k is lowered until h is half a σ.
    /// </remarks>
    /// <param name="shiftSigmas">The shift, in σ; its sign does not matter.</param>
    /// <param name="runLengthInControl">Mean samples between false alarms, head start and both sides included; 10 … 1e10.</param>
    /// <param name="headStartFraction">Head start as a fraction of h; 0 … 0.5.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static CusumDesign For(double shiftSigmas, double runLengthInControl, bool twoSided = true, double headStartFraction = 0)
    {
        var shift = Math.Abs(shiftSigmas);
        if (!(shift >= LeastShift && double.IsFinite(shift)))
            throw new ArgumentOutOfRangeException(nameof(shiftSigmas), shiftSigmas, $"A CUSUM is designed for a shift of at least {LeastShift} σ.");
        return WithReference(shift / 2, runLengthInControl, twoSided, headStartFraction);
    }

    /// <summary>As <see cref="For"/>, with k given.</summary>
    public static CusumDesign WithReference(double referenceValue, double runLengthInControl, bool twoSided = true, double headStartFraction = 0)
    {
        RequireRunLength(runLengthInControl);
        if (!(headStartFraction is >= 0 and <= 0.5))
            throw new ArgumentOutOfRangeException(nameof(headStartFraction), headStartFraction, "A head start is 0 to 0.5 of the decision interval.");
        if (!(referenceValue >= LeastShift / 2))
            throw new ArgumentOutOfRangeException(nameof(referenceValue), referenceValue, $"A reference value is at least {LeastShift / 2} σ.");

        var oneSided = twoSided ? 2 * runLengthInControl : runLengthInControl;
        var k = Math.Min(referenceValue, Normal.InvCDF(0, 1, 1 - 1 / oneSided) - 0.5);
        var h = ThresholdSearch.Solve(
            h => new CusumDesign(k, h, headStartFraction * h, twoSided).RunLength(0),
            runLengthInControl,
            ThresholdSearch.Solve(h => OneSidedCusum.Siegmund(k, h, 0), oneSided, guess: 1));
        return new CusumDesign(k, h, headStartFraction * h, twoSided);
    }

    /// <summary>Mean samples to the alarm from a fresh start, where the mean is <paramref name="shiftSigmas"/> all along (zero-state ARL).</summary>
    /// <remarks>
    /// Two sides are joined as Lucas and Crosier 1982 do (after Kemp 1961): 1/L = 1/L⁺ + 1/L⁻ without head start, exact for k ≥ 0;
    /// with it exact up to a head start of h/2 + k. Beyond 1e12 Siegmund's approximation is returned.
    /// </remarks>
    public double RunLength(double shiftSigmas)
    {
        var side = new OneSidedCusum(ReferenceValue, DecisionInterval);
        var upper = side.RunLength(shiftSigmas, HeadStart);
        return TwoSided ? Join(upper, side.RunLength(-shiftSigmas, HeadStart)) : upper.FromStart;
    }

    /// <summary>Mean samples to the alarm where mean and σ were learned from so many independent samples, averaged over what they may have come out as.</summary>
    /// <remarks>The average leans on the machines whose σ came out large: half of them alarm sooner. See <see cref="LearnedParameters"/>.</remarks>
    /// <exception cref="ArgumentOutOfRangeException">Fewer than 5 samples.</exception>
    public double RunLengthLearned(int learned, double shiftSigmas = 0) =>
        LearnedParameters.Average(learned, (mean, sigma) => new CusumDesign(ReferenceValue * sigma, DecisionInterval * sigma, HeadStart * sigma, TwoSided).RunLength(shiftSigmas - mean));

    /// <summary>Mean samples to the alarm where the shift comes after a long time in control without an alarm (conditional steady state).</summary>
    /// <remarks>One-sided to 1e-6. Two-sided takes each side's own quasi-stationary law for the joint one: error below 1 % at in-control run lengths above 150.</remarks>
    public double SteadyStateRunLength(double shiftSigmas)
    {
        var side = new OneSidedCusum(ReferenceValue, DecisionInterval);
        var upper = side.SteadyStateRunLength(shiftSigmas);
        if (!TwoSided)
            return upper;
        return Join(
            (side.RunLength(shiftSigmas, 0).FromZero, upper),
            (side.RunLength(-shiftSigmas, 0).FromZero, side.SteadyStateRunLength(-shiftSigmas)));
    }

    /// <summary>The design that finds a mean that creeps away at a steady rate soonest.</summary>
    /// <remarks>
    /// A ramp needs no statistic of its own: a step CUSUM whose k is half the level reached at the alarm is as quick as the likelihood-ratio
    /// test of the ramp itself, within some 3 % (compared with values of Gan 1992, The Statistician 41:71, and a simulated ramp test).
    /// k is found as the fixed point k = slope × mean delay / 2.
    /// </remarks>
    /// <param name="slopeSigmasPerSample">σ per sample; its sign does not matter; 1e-5 … 10.</param>
    /// <param name="runLengthInControl">Mean samples between false alarms; 10 … 1e10.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static CusumDesign ForRamp(double slopeSigmasPerSample, double runLengthInControl, bool twoSided = true)
    {
        var slope = Math.Abs(slopeSigmasPerSample);
        if (!(slope is >= 1e-5 and <= 10))
            throw new ArgumentOutOfRangeException(nameof(slopeSigmasPerSample), slopeSigmasPerSample, "A ramp rises by 1e-5 to 10 σ per sample.");

        var design = WithReference(0.5, runLengthInControl, twoSided);
        for (var step = 0; step < 8; step++)
        {
            var k = Math.Clamp(slope * design.RampRunLength(slope) / 2, LeastShift / 2, 3);
            var settled = Math.Abs(k / design.ReferenceValue - 1) < 0.02;
            design = WithReference(k, runLengthInControl, twoSided);
            if (settled)
                break;
        }

        return design;
    }

    /// <summary>Mean samples to the alarm where sample n = 1, 2, … has the mean slope × n, or slope × (n − 1) where <paramref name="fromZero"/>.</summary>
    /// <remarks>One-sided exact (the sum of the survival function). Two-sided leaves out the side the ramp moves away from, which can only shorten it.</remarks>
    /// <exception cref="ArgumentOutOfRangeException">The slope is 0, or falls where the chart watches rises only.</exception>
    public double RampRunLength(double slopeSigmasPerSample, bool fromZero = false)
    {
        var slope = TwoSided ? Math.Abs(slopeSigmasPerSample) : slopeSigmasPerSample;
        if (!(slope > 0 && double.IsFinite(slope)))
            throw new ArgumentOutOfRangeException(nameof(slopeSigmasPerSample), slopeSigmasPerSample, "A ramp must rise toward a limit the chart has.");

        var first = fromZero ? 0 : 1;
        return 1 + new OneSidedCusum(ReferenceValue, DecisionInterval)
            .Survival(HeadStart, n => slope * (n - 1 + first))
            .TakeWhile(alive => alive > 1e-12)
            .Sum();
    }

    /// <summary>P(no alarm in the first <paramref name="samples"/> samples) from a fresh start, where the mean is <paramref name="shiftSigmas"/> all along.</summary>
    /// <remarks>
    /// One-sided exact. Two-sided the product of the sides, raised to the power that makes its mean the run length: within 0.01 of simulation.
    /// </remarks>
    public double Survival(long samples, double shiftSigmas = 0)
    {
        var last = 1.0;
        foreach (var (n, alive, ratio) in Tail(shiftSigmas))
        {
            if (n > samples)
                return last;
            if (ratio is { } steady)
                return alive * Math.Pow(steady, samples - n);
            last = alive;
        }

        return last;
    }

    /// <summary>The least n such that the alarm has come by sample n with the given probability; errors as in <see cref="Survival"/>.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The probability is not between 0 and 1.</exception>
    public long RunLengthQuantile(double probability, double shiftSigmas = 0)
    {
        if (!(probability is > 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(probability), probability, "A probability between 0 and 1 is wanted.");
        foreach (var (n, alive, ratio) in Tail(shiftSigmas))
        {
            if (alive <= 1 - probability)
                return n;
            if (ratio is { } steady)
                return n + (long)Math.Ceiling(Math.Log((1 - probability) / alive) / Math.Log(steady));
        }

        return long.MaxValue;
    }

    private IEnumerable<(int N, double Alive, double? Ratio)> Tail(double shift)
    {
        if (!TwoSided)
            return BothSurvive(shift);
        var mean = 1.0;
        foreach (var (_, alive, ratio) in BothSurvive(shift))
        {
            mean += ratio is { } steady ? alive / (1 - steady) : alive;
            if (ratio is not null)
                break;
        }

        var power = mean / RunLength(shift);
        return BothSurvive(shift).Select(step => (step.N, Math.Pow(step.Alive, power), step.Ratio is { } ratio ? Math.Pow(ratio, power) : (double?)null));
    }

    /// <summary>Sample by sample, the sides taken as independent, until the ratio from one to the next no longer changes: from there on the tail is geometric.</summary>
    private IEnumerable<(int N, double Alive, double? Ratio)> BothSurvive(double shift)
    {
        var side = new OneSidedCusum(ReferenceValue, DecisionInterval);
        using var lower = side.Survival(HeadStart, _ => -shift).GetEnumerator();
        var (n, last, lastRatio, steady) = (0, 1.0, 1.0, 0);
        foreach (var upper in side.Survival(HeadStart, _ => shift))
        {
            n++;
            var alive = TwoSided && lower.MoveNext() ? upper * lower.Current : upper;
            var ratio = alive / last;
            steady = Math.Abs(ratio - lastRatio) < 1e-7 * (1 - ratio) ? steady + 1 : 0;
            (last, lastRatio) = (alive, ratio);
            yield return (n, alive, steady > 20 && n > 50 ? ratio : null);
            if (!(alive > 1e-15))
                yield break;
        }
    }

    private static double Join((double FromZero, double FromStart) upper, (double FromZero, double FromStart) lower)
    {
        var (larger, smaller) = upper.FromZero > lower.FromZero ? (upper, lower) : (lower, upper);
        var ratio = smaller.FromZero / larger.FromZero;
        return (smaller.FromStart + larger.FromStart * ratio - smaller.FromZero) / (1 + ratio);
    }

    internal static void RequireRunLength(double runLengthInControl)
    {
        if (!(runLengthInControl is >= 10 and <= 1e10))
            throw new ArgumentOutOfRangeException(nameof(runLengthInControl), runLengthInControl, "A run length in control is 10 to 1e10 samples.");
    }
}
