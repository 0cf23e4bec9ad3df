using LaserWatch.Monitoring;

namespace LaserWatch.Detection.Tube;

/// <summary>The health ratio of one run: the mean of its blocks.</summary>
public record struct RunHealth
{
    private long _number;
    private int _blocks;
    private double _sum;
    private double _squares;

    /// <summary>Blocks of steady beam in the run; 0 where there was none.</summary>
    public readonly int Blocks => _blocks;

    /// <summary>Measured current / baseline; null without a block.</summary>
    public readonly double? Ratio => _blocks == 0 ? null : 1 + (_sum / _blocks);

    /// <summary>Standard error by the scatter of the blocks alone (what they share, such as the mains, is not in it); null with fewer than three.</summary>
    public readonly double? Error => _blocks < 3
        ? null
        : Math.Sqrt(Math.Max(_squares - (_sum * _sum / _blocks), 0) / (_blocks - 1) / _blocks);

    internal void Take(long run, double ratio)
    {
        if (run != _number)
            (_number, _blocks, _sum, _squares) = (run, 0, 0, 0);
        _blocks++;
        _sum += ratio - 1;
        _squares += (ratio - 1) * (ratio - 1);
    }

    internal void Visit(StateVisitor state)
    {
        state.Walk(ref _number);
        state.Walk(ref _blocks);
        state.Walk(ref _sum);
        state.Walk(ref _squares);
    }
}
