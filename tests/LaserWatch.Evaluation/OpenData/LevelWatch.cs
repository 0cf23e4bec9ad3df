using LaserWatch.Statistics;

namespace LaserWatch.Evaluation.OpenData;

/// <summary>Watches the level of one series by the sequential detectors: learns from its beginning, then a two-sided CUSUM of block means.</summary>
/// <remarks>
/// The spread of the block means is robust (median deviation), and widened by their own first autocorrelation to the long-run
/// deviation, so that coloured noise does not run the sum up. After an alarm the sum starts anew once some blocks are back at the
/// learned level.
/// </remarks>
/// <param name="block">Samples of one mean.</param>
/// <param name="learn">Samples that teach; not judged.</param>
/// <param name="shift">The shift designed for, in long-run deviations.</param>
/// <param name="blocksBetweenFalseAlarms">Mean number of blocks between false alarms.</param>
internal sealed class LevelWatch(int block, int learn, double shift, double blocksBetweenFalseAlarms)
{
    private const int BlocksThatClear = 3;
    private const double ClearSigmas = 2;
    private const double MostAutocorrelation = 0.9;

    private readonly Cusum _cusum = new(CusumDesign.For(shift, blocksBetweenFalseAlarms));
    private readonly List<double> _means = [];
    private readonly double[] _latest = new double[BlocksThatClear];
    private double _sum;
    private int _count;
    private int _taken;
    private int _judged;
    private double _level = double.NaN;
    private double _deviation;

    public bool IsInAlarm { get; private set; }

    /// <summary>How many blocks ago the level changed, as the sum estimates it.</summary>
    public long BlocksSinceChange => _cusum.Upper >= _cusum.Lower ? _cusum.UpperRun : _cusum.LowerRun;

    /// <summary>True where an alarm has come up with this sample.</summary>
    public bool Take(double value)
    {
        if (double.IsNaN(value))
            return false;
        _sum += value;
        _taken++;
        if (++_count < block)
            return false;
        var mean = _sum / _count;
        (_sum, _count) = (0, 0);
        if (_taken <= learn)
        {
            _means.Add(mean);
            return false;
        }

        if (double.IsNaN(_level))
            Learn();
        return Judge((mean - _level) / _deviation);
    }

    private bool Judge(double z)
    {
        _latest[_judged++ % BlocksThatClear] = z;
        var over = _cusum.Update(z) != CusumSide.None;
        if (!IsInAlarm)
            return IsInAlarm = over;
        if (_judged >= BlocksThatClear && Math.Abs(_latest.Average()) < ClearSigmas && _latest.All(latest => Math.Abs(latest) < 2 * ClearSigmas))
        {
            _cusum.Reset();
            IsInAlarm = false;
        }

        return false;
    }

    private void Learn()
    {
        _level = Median(_means);
        var spread = 1.4826 * Median(_means.Select(mean => Math.Abs(mean - _level)));
        double product = 0, square = 0;
        for (var i = 0; i < _means.Count; i++)
        {
            square += Math.Pow(_means[i] - _level, 2);
            product += i == 0 ? 0 : (_means[i] - _level) * (_means[i - 1] - _level);
        }

        // A coarse sensor may show one value all along: its own step is not known then, and its plain deviation must do.
        spread = Math.Max(spread, Math.Sqrt(square / _means.Count));
        var phi = square > 0 ? Math.Clamp(product / square, 0, MostAutocorrelation) : 0;
        _deviation = Math.Max(spread * Math.Sqrt((1 + phi) / (1 - phi)), 1e-9 + (1e-6 * Math.Abs(_level)));
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[(sorted.Length / 2) - 1] + sorted[sorted.Length / 2]) / 2;
    }
}
