using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Two-sided tabular CUSUM of errors that each show another part of the shift: C ← max(0, C + w·x − k·w²).</summary>
/// <remarks>
/// The log likelihood ratio of a shift 2k·w against none, in units of 2k; with w = 1 throughout it is the plain CUSUM. Between two errors it gains
/// w² times the information of one with w = 1, so the design of the plain one holds where w² is 1 in the mean, and is on the safe side where it is less.
/// </remarks>
internal sealed class WeightedCusum(double referenceValue, double decisionInterval)
{
    private double _upper, _lower;
    private long _upperRun, _lowerRun;

    public double ReferenceValue => referenceValue;

    public double DecisionInterval => decisionInterval;

    public double Highest => Math.Max(_upper, _lower);

    /// <summary>Blocks since that side's sum was last 0.</summary>
    public long UpperRun => _upperRun;

    public long LowerRun => _lowerRun;

    public CusumSide Update(double standardised, double weight)
    {
        _upper = Math.Max(0, _upper + (weight * standardised) - (referenceValue * weight * weight));
        _lower = Math.Max(0, _lower - (weight * standardised) - (referenceValue * weight * weight));
        _upperRun = _upper > 0 ? _upperRun + 1 : 0;
        _lowerRun = _lower > 0 ? _lowerRun + 1 : 0;
        return Highest <= decisionInterval ? CusumSide.None : _upper >= _lower ? CusumSide.Upper : CusumSide.Lower;
    }

    public void Reset() => (_upper, _lower, _upperRun, _lowerRun) = (0, 0, 0, 0);

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _upper);
        state.Walk(ref _lower);
        state.Walk(ref _upperRun);
        state.Walk(ref _lowerRun);
    }
}
