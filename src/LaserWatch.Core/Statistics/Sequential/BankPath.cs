namespace LaserWatch.Statistics;

/// <summary>A one-sided bank on a simulated path, with the likelihood ratio of a change at any moment to any member's conjugate mean.</summary>
internal sealed class BankPath
{
    private readonly double[] _k;
    private readonly double[] _h;
    private readonly double[] _sums;
    private readonly double[] _ratios;

    public BankPath(IReadOnlyList<CusumDesign> members)
    {
        _k = [.. members.Select(member => member.ReferenceValue)];
        _h = [.. members.Select(member => member.DecisionInterval)];
        _sums = new double[_k.Length];
        _ratios = new double[_k.Length];
    }

    /// <summary>Whether a member is above its h.</summary>
    public bool Any { get; private set; }

    /// <summary>Whether the member of least k is.</summary>
    public bool First => _sums[0] > _h[0];

    /// <summary>Summed over the moments, averaged over the members.</summary>
    public double Ratio { get; private set; }

    public void Step(double x)
    {
        (Any, Ratio) = (false, 0);
        for (var i = 0; i < _k.Length; i++)
        {
            _sums[i] = Math.Max(0, _sums[i] + x - _k[i]);
            Any |= _sums[i] > _h[i];
            _ratios[i] = (_ratios[i] + 1.0 / _k.Length) * Math.Exp(2 * _k[i] * (x - _k[i]));
            Ratio += _ratios[i];
        }
    }

    public void Follow(BankPath other)
    {
        other._sums.CopyTo(_sums, 0);
        other._ratios.CopyTo(_ratios, 0);
        (Any, Ratio) = (other.Any, other.Ratio);
    }

    public void Clear()
    {
        Array.Clear(_sums);
        Array.Clear(_ratios);
        (Any, Ratio) = (false, 0);
    }
}
