using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>
/// Window-limited generalised likelihood ratio for a mean shift of unknown size in standardised samples:
/// the greatest of (sum of the last m)² / 2m over m = 1 … window, alarm above the threshold.
/// </summary>
/// <remarks>
/// Lai 1995, J. Royal Statistical Society B 57:613; Siegmund and Venkatraman 1995, Annals of Statistics 23:255 (from memory).
/// O(window) an update, over a ring of the newest samples; nothing allocated. No sum is carried along, so no rounding gathers.
/// </remarks>
public sealed class ShiftGlr
{
    private readonly ShiftGlrDesign _design;
    private double[] _ring;
    private int _next;
    private int _held;
    private double _statistic;
    private int _changeAgo;
    private double _mean;

    public ShiftGlr(ShiftGlrDesign design)
    {
        if (design.Window < 1 || !(design.Threshold > 0))
            throw new ArgumentOutOfRangeException(nameof(design), design, "A likelihood-ratio chart needs a window and a threshold above 0.");
        _design = design;
        _ring = new double[design.Window];
    }

    public ShiftGlrDesign Design => _design;

    /// <summary>The greatest log-likelihood ratio, in nats.</summary>
    public double Statistic => _statistic;

    /// <summary>Samples since the likeliest change, that of <see cref="Statistic"/>; 0 where nothing speaks for one.</summary>
    public int ChangeAgo => _changeAgo;

    /// <summary>The mean since then, in σ.</summary>
    public double EstimatedMean => _mean;

    /// <param name="standardised">(sample − mean in control) / standard deviation in control.</param>
    /// <exception cref="ArgumentOutOfRangeException">The sample is NaN or infinite.</exception>
    public CusumSide Update(double standardised)
    {
        if (!double.IsFinite(standardised))
            throw new ArgumentOutOfRangeException(nameof(standardised), standardised, "A sample must be finite.");

        _ring[_next] = standardised;
        _held = Math.Min(_held + 1, _ring.Length);
        var place = _next;
        _next = _next + 1 == _ring.Length ? 0 : _next + 1;

        (_statistic, _changeAgo, _mean) = (0, 0, 0);
        var sum = 0.0;
        for (var m = 1; m <= _held; m++)
        {
            sum += _ring[place];
            place = place == 0 ? _ring.Length - 1 : place - 1;
            if (sum <= 0 && !_design.TwoSided)
                continue;
            var ratio = sum * sum / (2 * m);
            if (ratio > _statistic)
                (_statistic, _changeAgo, _mean) = (ratio, m, sum / m);
        }

        if (_statistic <= _design.Threshold)
            return CusumSide.None;
        return _mean > 0 ? CusumSide.Upper : CusumSide.Lower;
    }

    public void Reset()
    {
        (_next, _held, _changeAgo) = (0, 0, 0);
        (_statistic, _mean) = (0, 0);
    }

    public void Visit(StateVisitor visitor)
    {
        visitor.Walk(ref _ring);
        visitor.Walk(ref _next);
        visitor.Walk(ref _held);
        visitor.Walk(ref _statistic);
        visitor.Walk(ref _changeAgo);
        visitor.Walk(ref _mean);
        if (_ring.Length != _design.Window || _next < 0 || _next >= _ring.Length || _held < 0 || _held > _ring.Length)
            StateVisitor.Refuse();
    }
}
