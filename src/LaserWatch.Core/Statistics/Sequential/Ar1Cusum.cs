using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>A CUSUM of the one-step errors of coloured noise. O(1), nothing allocated.</summary>
public sealed class Ar1Cusum
{
    private readonly Ar1Noise _noise;
    private readonly Ar1Whitener _whitener;

    public Ar1Cusum(Ar1Noise noise, CusumDesign design)
    {
        if (!(noise.ErrorSigma > 0))
            throw new ArgumentOutOfRangeException(nameof(noise), noise, "Noise has a spread above 0.");
        _noise = noise;
        _whitener = new Ar1Whitener(noise.Phi, noise.Theta);
        Chart = new Cusum(design);
    }

    public Cusum Chart { get; }

    /// <param name="sample">In the unit of <see cref="Ar1Noise.Mean"/>.</param>
    public CusumSide Update(double sample) => Chart.Update(_whitener.Update(sample - _noise.Mean) / _noise.ErrorSigma);

    /// <summary>What follows is not the next sample; the sums stand.</summary>
    public void Gap() => _whitener.Reset();

    /// <summary>The sums start anew; the noise goes on.</summary>
    public void Reset() => Chart.Reset();

    public void Visit(StateVisitor visitor)
    {
        _whitener.Visit(visitor);
        Chart.Visit(visitor);
    }
}
