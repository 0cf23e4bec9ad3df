using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>
/// Turns AR(1) noise, with or without white sensor noise on top, into its one-step errors, which are independent:
/// a ← x − φ·x₋₁ + θ·a₋₁.
/// </summary>
/// <remarks>
/// Residual charts: Alwan and Roberts 1988, J. Business and Economic Statistics 6:87; AR(1) plus white noise is ARMA(1,1): Box and Jenkins,
/// Time Series Analysis (from memory). A lasting shift of the samples shrinks in the errors, by √((1 − φ)/(1 + φ)) in σ of each where θ = 0. O(1).
/// </remarks>
public sealed class Ar1Whitener
{
    private readonly double _phi;
    private readonly double _theta;
    private double _sample;
    private double _error;
    private bool _begun;

    /// <param name="phi">Correlation of neighbours of the coloured part; −1 … 1, both left out.</param>
    /// <param name="theta">0 without sensor noise; with it between 0 and φ.</param>
    public Ar1Whitener(double phi, double theta = 0)
    {
        if (!(Math.Abs(phi) < 1) || !(Math.Abs(theta) < 1))
            throw new ArgumentOutOfRangeException(nameof(phi), (phi, theta), "φ and θ are between −1 and 1.");
        (_phi, _theta) = (phi, theta);
    }

    /// <param name="centred">sample − mean in control.</param>
    /// <returns>The one-step error, in the sample's unit; at the start and after a gap the sample itself brought to the errors' variance.</returns>
    public double Update(double centred)
    {
        _error = _begun ? centred - _phi * _sample + _theta * _error : centred / Gain;
        _sample = centred;
        _begun = true;
        return _error;
    }

    /// <summary>Standard deviation of a sample over that of an error: √((1 − 2φθ + θ²)/(1 − φ²)).</summary>
    public double Gain => Math.Sqrt((1 - 2 * _phi * _theta + _theta * _theta) / (1 - _phi * _phi));

    /// <summary>What follows is not the next sample: the last one says nothing about it.</summary>
    public void Reset() => (_sample, _error, _begun) = (0, 0, false);

    public void Visit(StateVisitor visitor)
    {
        visitor.Walk(ref _sample);
        visitor.Walk(ref _error);
        visitor.Walk(ref _begun);
    }
}
