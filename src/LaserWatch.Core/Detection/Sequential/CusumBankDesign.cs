using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace LaserWatch.Detection.Sequential;

/// <summary>Parallel CUSUMs for a shift of unknown size: each tuned to one size, all with the same run length of their own.</summary>
/// <remarks>Lorden 1971, Annals of Mathematical Statistics 42:1897, and Sparks 2000, J. Quality Technology 32:157 (from memory).</remarks>
/// <param name="Members">Every chart of the bank, by rising k; two-sided all or none, without head start.</param>
public sealed record CusumBankDesign(IReadOnlyList<CusumDesign> Members)
{
    private const int Paths = 60_000;
    private const int Seed = 20_240_601;

    /// <summary>The bank for shifts from the least to the greatest, each size twice the one before, at the given mean time between false alarms of the whole.</summary>
    /// <remarks>
    /// The run length of the whole is between that of one member over their number and that of one member. How much of each
    /// is found by a simulation of its own: importance sampling of the cycles in which the bank leaves zero (a cycle begins and ends
    /// when the chart of least k, the last to return, is at 0), drawn from a change at a random place to a random member's conjugate
    /// mean 2k (Siegmund 1985, Sequential Analysis, ch. 4, from memory), 60 000 cycles from a fixed seed: standard error about 1 %
    /// at any run length, and the same answer on every machine. Takes some 0.1 s: keep the design.
    /// </remarks>
    /// <param name="leastShift">Smallest size, in σ; 0.1 … 4.</param>
    /// <param name="greatestShift">Largest size, in σ; up to 4.</param>
    /// <param name="runLengthInControl">Mean samples between false alarms of the whole; 50 … 1e9.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static CusumBankDesign For(double leastShift, double greatestShift, double runLengthInControl, bool twoSided = true)
    {
        if (!(leastShift is >= 0.1 and <= 4) || !(greatestShift >= leastShift && greatestShift <= 4))
            throw new ArgumentOutOfRangeException(nameof(greatestShift), (leastShift, greatestShift), "A bank is for shifts of 0.1 to 4 σ, the least first.");
        if (!(runLengthInControl is >= 50 and <= 1e9))
            throw new ArgumentOutOfRangeException(nameof(runLengthInControl), runLengthInControl, "A run length in control is 50 to 1e9 samples.");

        var count = 1 + (int)Math.Ceiling(Math.Log2(greatestShift / leastShift) - 1e-9);
        var k = new double[count];
        for (var i = 0; i < count; i++)
            k[i] = Math.Min(leastShift * Math.Pow(2, i), greatestShift) / 2;

        var oneSided = twoSided ? 2 * runLengthInControl : runLengthInControl;
        var each = oneSided * (1 + count) / 2;
        for (var step = 0; step < 3 && count > 1; step++)
            each = oneSided * EffectiveNumber(k, each);
        return new CusumBankDesign([.. k.Select(k => CusumDesign.WithReference(k, twoSided ? each / 2 : each, twoSided))]);
    }

    /// <summary>Run length of one chart over that of the whole one-sided bank: from 1 (they alarm together) to their number (each by itself).</summary>
    private static double EffectiveNumber(double[] k, double each)
    {
        var members = Array.ConvertAll(k, k => CusumDesign.WithReference(k, each, twoSided: false));
        k = Array.ConvertAll(members, member => member.ReferenceValue);
        var h = Array.ConvertAll(members, member => member.DecisionInterval);
        var random = new Xoshiro256StarStar(Seed, threadSafe: false);
        var sums = new double[k.Length];
        var changed = new double[k.Length];
        var (first, any) = (0.0, 0.0);
        for (var path = 0; path < Paths; path++)
        {
            var (byFirst, byAny) = Cycle(k, h, random, sums, changed);
            first += byFirst;
            any += byAny;
        }

        return any / first;
    }

    /// <summary>
    /// One cycle from zero: the likelihood ratio (the real law against the drawn one) at the first alarm of the first chart and of
    /// any chart; 0 where the cycle ends without.
    /// </summary>
    private static (double First, double Any) Cycle(double[] k, double[] h, Xoshiro256StarStar random, double[] sums, double[] changed)
    {
        Array.Clear(sums);
        Array.Clear(changed);
        var (unchanged, mean, any) = (1.0, 0.0, 0.0);
        for (var hazard = 0.3; ; hazard = 0.05)
        {
            if (mean == 0 && random.NextDouble() < hazard)
                mean = 2 * k[random.Next(k.Length)];
            var x = Normal.Sample(random, mean, 1);

            var ratio = 0.0;
            for (var i = 0; i < k.Length; i++)
            {
                changed[i] = (changed[i] + unchanged * hazard / k.Length) * Math.Exp(2 * k[i] * (x - k[i]));
                ratio += changed[i];
            }

            unchanged *= 1 - hazard;
            ratio += unchanged;

            for (var i = 0; i < k.Length; i++)
            {
                sums[i] = Math.Max(0, sums[i] + x - k[i]);
                if (sums[i] > h[i] && any == 0)
                    any = 1 / ratio;
            }

            if (sums[0] > h[0])
                return (1 / ratio, any);
            if (sums[0] == 0)
                return (0, any);
        }
    }
}
