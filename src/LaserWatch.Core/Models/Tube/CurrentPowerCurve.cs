namespace LaserWatch.Models;

/// <summary>Current against commanded power: rising with power, through what was learned at the powers in use.</summary>
/// <remarks>
/// Isotonic regression by pooling adjacent violators, weighted by certainty (Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under
/// Order Restrictions, 1972, from memory), then straight lines between neighbours. Between two learned powers the curve may bend: half of
/// what the chord's slope changes there counts as error. Beyond the learned powers nothing is said.
/// </remarks>
internal sealed class CurrentPowerCurve
{
    /// <summary>Farther apart, two powers say little of one between them.</summary>
    private const double MostApartPercent = 40;

    /// <summary>A bend that nobody has seen yet, as a fraction of the current, for each percent to the nearer neighbour.</summary>
    private const double BendPerPercent = 0.001;

    private double[] _powers = [], _values = [], _errors = [];
    private int _count;

    public int Count => _count;

    public void Clear() => _count = 0;

    /// <summary>Sets the curve to the nodes, in rising order of power.</summary>
    /// <param name="nodes">Power in %, current in mA, relative standard error; each power once.</param>
    public void Set(ReadOnlySpan<(double Power, double Milliamps, double Error)> nodes)
    {
        if (_powers.Length < nodes.Length)
            (_powers, _values, _errors) = (new double[2 * nodes.Length], new double[2 * nodes.Length], new double[2 * nodes.Length]);
        _count = nodes.Length;
        Span<double> weights = stackalloc double[nodes.Length];
        Span<int> sizes = stackalloc int[nodes.Length];
        var blocks = 0;
        for (var i = 0; i < nodes.Length; i++)
        {
            _powers[i] = nodes[i].Power;
            _errors[i] = nodes[i].Error;
            var absolute = nodes[i].Error * nodes[i].Milliamps;
            (_values[blocks], weights[blocks], sizes[blocks]) = (nodes[i].Milliamps, 1 / (absolute * absolute), 1);
            blocks++;
            while (blocks > 1 && _values[blocks - 2] > _values[blocks - 1])
            {
                var weight = weights[blocks - 2] + weights[blocks - 1];
                _values[blocks - 2] = ((weights[blocks - 2] * _values[blocks - 2]) + (weights[blocks - 1] * _values[blocks - 1])) / weight;
                (weights[blocks - 2], sizes[blocks - 2]) = (weight, sizes[blocks - 2] + sizes[blocks - 1]);
                blocks--;
            }
        }

        // Spread the pooled values out again, from the end, in place.
        var place = nodes.Length;
        for (var block = blocks - 1; block >= 0; block--)
        {
            for (var i = 0; i < sizes[block]; i++)
                _values[--place] = _values[block];
        }
    }

    /// <summary>The current the curve gives at a power.</summary>
    /// <returns>mA and relative standard error; null outside the learned powers and in wide gaps between them.</returns>
    public (double Milliamps, double Error)? At(double powerPercent)
    {
        for (var i = 0; i < _count; i++)
        {
            if (Math.Abs(_powers[i] - powerPercent) <= 0.5)
                return (_values[i], _errors[i]);
            if (_powers[i] < powerPercent)
                continue;
            if (i == 0 || _powers[i] - _powers[i - 1] > MostApartPercent)
                return null;
            var share = (powerPercent - _powers[i - 1]) / (_powers[i] - _powers[i - 1]);
            var value = _values[i - 1] + (share * (_values[i] - _values[i - 1]));
            var near = Math.Min(powerPercent - _powers[i - 1], _powers[i] - powerPercent);
            var bend = BendPerPercent * near;
            var error = Math.Sqrt(
                ((1 - share) * (1 - share) * _errors[i - 1] * _errors[i - 1]) + (share * share * _errors[i] * _errors[i]) + (bend * bend));
            return (value, error);
        }

        return null;
    }
}
