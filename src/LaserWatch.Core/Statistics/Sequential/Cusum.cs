using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Tabular CUSUM of standardised samples: C⁺ ← max(0, C⁺ + x − k), C⁻ ← max(0, C⁻ − x − k), alarm above h.</summary>
/// <remarks>
/// Page 1954; worked in NIST/SEMATECH e-Handbook 6.3.2.3. O(1), nothing allocated. The sums run on after an alarm, which stands
/// as long as they are above h: the owner resets when the alarm has been dealt with.
/// </remarks>
public sealed class Cusum
{
    private readonly CusumDesign _design;
    private double _upper;
    private double _lower;
    private long _upperRun;
    private long _lowerRun;

    public Cusum(CusumDesign design)
    {
        if (!(design.ReferenceValue >= 0) || !(design.DecisionInterval > 0) || !(design.HeadStart >= 0) || !(design.HeadStart < design.DecisionInterval))
            throw new ArgumentOutOfRangeException(nameof(design), design, "A CUSUM needs k ≥ 0, h > 0 and a head start from 0 to below h.");
        _design = design;
        Reset();
    }

    public CusumDesign Design => _design;

    /// <summary>C⁺, in σ.</summary>
    public double Upper => _upper;

    /// <summary>C⁻, in σ and ≥ 0; always 0 where one-sided.</summary>
    public double Lower => _lower;

    /// <summary>Samples since C⁺ was last 0 (or since the start): at an alarm the estimate of how long ago the mean rose.</summary>
    public long UpperRun => _upperRun;

    /// <summary>Samples since C⁻ was last 0 (or since the start): at an alarm the estimate of how long ago the mean fell.</summary>
    public long LowerRun => _lowerRun;

    /// <summary>
    /// The mean since the change, in σ, by the side that stands higher: k + C⁺/N⁺ or −(k + C⁻/N⁻); 0 where both sums are 0.
    /// </summary>
    /// <remarks>As in Montgomery, Introduction to Statistical Quality Control, ch. 9 (from memory). At the very alarm it errs to the large side.</remarks>
    public double EstimatedMean =>
        _upper >= _lower
            ? _upperRun == 0 ? 0 : _design.ReferenceValue + _upper / _upperRun
            : -(_design.ReferenceValue + _lower / _lowerRun);

    /// <param name="standardised">(sample − mean in control) / standard deviation in control.</param>
    /// <returns>The side whose sum is above h; the higher one where both are.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The sample is NaN or infinite.</exception>
    public CusumSide Update(double standardised)
    {
        if (!double.IsFinite(standardised))
            throw new ArgumentOutOfRangeException(nameof(standardised), standardised, "A sample must be finite.");

        _upper = Math.Max(0, _upper + standardised - _design.ReferenceValue);
        _upperRun = _upper > 0 ? _upperRun + 1 : 0;
        if (_design.TwoSided)
        {
            _lower = Math.Max(0, _lower - standardised - _design.ReferenceValue);
            _lowerRun = _lower > 0 ? _lowerRun + 1 : 0;
        }

        var side = _upper >= _lower ? CusumSide.Upper : CusumSide.Lower;
        return Math.Max(_upper, _lower) > _design.DecisionInterval ? side : CusumSide.None;
    }

    /// <summary>Back to the start, head start included.</summary>
    public void Reset()
    {
        _upper = _design.HeadStart;
        _lower = _design.TwoSided ? _design.HeadStart : 0;
        _upperRun = _lowerRun = 0;
    }

    public void Visit(StateVisitor visitor)
    {
        visitor.Walk(ref _upper);
        visitor.Walk(ref _lower);
        visitor.Walk(ref _upperRun);
        visitor.Walk(ref _lowerRun);
    }
}
