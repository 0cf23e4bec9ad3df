using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Exponentially weighted moving average of standardised samples, Z ← λ·x + (1 − λ)·Z, alarm beyond fixed limits on either side.</summary>
/// <remarks>Roberts 1959; worked in NIST/SEMATECH e-Handbook 6.3.2.4. O(1), nothing allocated.</remarks>
public sealed class Ewma
{
    private readonly EwmaDesign _design;
    private readonly double _limit;
    private double _average;

    public Ewma(EwmaDesign design)
    {
        if (!(design.Smoothing is > 0 and <= 1) || !(design.Width > 0))
            throw new ArgumentOutOfRangeException(nameof(design), design, "An EWMA needs a weight above 0 and at most 1, and a width above 0.");
        _design = design;
        _limit = design.Limit;
    }

    public EwmaDesign Design => _design;

    /// <summary>Z, in σ of a sample.</summary>
    public double Average => _average;

    /// <param name="standardised">(sample − mean in control) / standard deviation in control.</param>
    /// <exception cref="ArgumentOutOfRangeException">The sample is NaN or infinite.</exception>
    public CusumSide Update(double standardised)
    {
        if (!double.IsFinite(standardised))
            throw new ArgumentOutOfRangeException(nameof(standardised), standardised, "A sample must be finite.");
        _average += _design.Smoothing * (standardised - _average);
        return _average > _limit ? CusumSide.Upper : _average < -_limit ? CusumSide.Lower : CusumSide.None;
    }

    public void Reset() => _average = 0;

    public void Visit(StateVisitor visitor) => visitor.Walk(ref _average);
}
