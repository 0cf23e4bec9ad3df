using MathNet.Numerics.Distributions;
using MathNet.Numerics.Integration;

namespace LaserWatch.Statistics;

/// <summary>Designs a CUSUM of one-step errors of coloured noise, with room for what the learning stretch could not tell.</summary>
public static class Ar1CusumDesign
{
    private const int Nodes = 9;

    // Together they carry the standard normal law to ±4 σ.
    private static readonly GaussLegendreRule Normals = new(-4, 4, Nodes);

    /// <summary>The design for a lasting shift of the samples by so many of their own <see cref="Ar1Noise.Sigma"/>.</summary>
    /// <remarks>
    /// Where the noise is known, this is the plain design for the shift that remains in the errors. Where it was learned from n samples, h is
    /// raised until the geometric mean of the run lengths, over what mean, φ, θ and σ may truly be, is the wanted one: the learned mean
    /// errs by a normal with 1/n of the errors' variance whatever φ; an error of φ leaves a slow part in the errors, whose variance over the
    /// chart's own memory scales k and h, the memory being half of the (h + 1.166)/k samples a false alarm takes to build up; σ errs by
    /// 1/√2n. The large-sample laws are those of Box and Jenkins, Time Series Analysis, ch. 7 (from memory). k is at least 3/√n, below which
    /// the learned mean's own error would be found.
    /// The geometric mean stands between the two arithmetic ones, that of the rates (false alarms of many machines over their samples) and that of
    /// the run lengths (which a few lucky machines lengthen); tests/LaserWatch.Benchmarks/README.md gives both, by simulation.
    /// </remarks>
    /// <param name="noise">The samples' noise.</param>
    /// <param name="shiftSigmas">The shift, in σ of the samples.</param>
    /// <param name="runLengthInControl">Mean samples between false alarms of a middling machine; 10 … 1e10.</param>
    /// <exception cref="ArgumentOutOfRangeException">An argument is outside its range.</exception>
    public static CusumDesign For(Ar1Noise noise, double shiftSigmas, double runLengthInControl, bool twoSided = true)
    {
        var remaining = Math.Abs(shiftSigmas) * noise.ShiftGain;
        if (noise.Learned == int.MaxValue)
            return CusumDesign.For(Math.Max(remaining, CusumDesign.LeastShift), runLengthInControl, twoSided);
        if (noise.Learned < Ar1Noise.LeastSamples)
            throw new ArgumentOutOfRangeException(nameof(noise), noise.Learned, $"A design needs noise learned from at least {Ar1Noise.LeastSamples} samples.");

        var known = CusumDesign.WithReference(Math.Max(remaining / 2, 3 / Math.Sqrt(noise.Learned)), runLengthInControl, twoSided);
        var h = ThresholdSearch.Solve(
            h => RunLength(known with { DecisionInterval = h }, noise), runLengthInControl, guess: known.DecisionInterval * 1.1);
        return known with { DecisionInterval = h };
    }

    /// <summary>Geometric mean of the run lengths in control of many charts of this design, each with noise learned anew from as many samples.</summary>
    /// <remarks>
    /// The run length with known noise by the integral equation, divided by the geometric mean ratio of rates, which Siegmund's approximation
    /// gives within a few per cent: small beside the error of the laws assumed for mean, φ and σ.
    /// </remarks>
    public static double RunLength(CusumDesign design, Ar1Noise noise)
    {
        var known = design.RunLength(0);
        if (noise.Learned == int.MaxValue)
            return known;
        var memory = (design.DecisionInterval + 1.166) / (2 * design.ReferenceValue);
        var (logarithm, total) = (0.0, 0.0);
        for (var i = 0; i < Nodes; i++)
        {
            var scale = Math.Sqrt(MemoryVariance(noise, memory, Normals.Abscissas[i])) * Math.Exp(SigmaError(noise) * Normals.Abscissas[i]);
            for (var j = 0; j < Nodes; j++)
            {
                logarithm += Weight(i) * Weight(j) * Math.Log(Rate(design, scale, Normals.Abscissas[j] / Math.Sqrt(noise.Learned)));
                total += Weight(i) * Weight(j);
            }
        }

        return known * Rate(design, 1, 0) / Math.Exp(logarithm / total);
    }

    /// <summary>Siegmund's rate of alarms where the errors have the given spread and mean, both in the σ they are taken to have.</summary>
    private static double Rate(CusumDesign design, double scale, double mean)
    {
        var (k, h, shift) = (design.ReferenceValue / scale, design.DecisionInterval / scale, mean / scale);
        var upper = 1 / OneSidedCusum.Siegmund(k, h, shift);
        return design.TwoSided ? upper + 1 / OneSidedCusum.Siegmund(k, h, -shift) : upper;
    }

    private static double Weight(int node) => Normals.Weights[node] * Normal.PDF(0, 1, Normals.Abscissas[node]);

    private static double SigmaError(Ar1Noise noise) => Math.Sqrt(0.5 / noise.Learned);

    /// <summary>Variance of a sum of errors over the chart's memory, over that of independent ones, where φ is wrong by <paramref name="deviate"/> standard errors.</summary>
    private static double MemoryVariance(Ar1Noise noise, double memory, double deviate)
    {
        var error = deviate * (1 - noise.Phi) * GainError(noise);
        var phi = Math.Min(noise.Phi + Math.Max(0, error), 0.995);
        var (length, power, withErrors, withItself) = ((int)Math.Clamp(memory, 1, 5000), 1.0, 0.0, 1.0);
        for (var lag = 1; lag < length; lag++)
        {
            var share = 1 - lag / (double)length;
            withErrors += share * power;
            power *= phi;
            withItself += 2 * share * power;
        }

        var variance = 1 + 2 * error * withErrors + error * error * withItself / (1 - phi * phi);
        return Math.Max(variance, 0.05);
    }

    /// <summary>Standard error of ln((1 − φ)/(1 − θ)), the errors' gain at long waves, by the information matrix of AR(1) or ARMA(1,1).</summary>
    private static double GainError(Ar1Noise noise)
    {
        var (phi, theta, n) = (noise.Phi, noise.Theta, (double)noise.Learned);
        if (theta == 0)
            return Math.Sqrt((1 + phi) / (1 - phi) / n);
        var both = 1 - phi * theta;
        var variance = both / (n * (phi - theta) * (phi - theta))
            * ((1 + phi) * both / (1 - phi) - 2 * (1 + phi) * (1 + theta) + (1 + theta) * both / (1 - theta));
        return Math.Min(Math.Sqrt(variance), 1);
    }
}
