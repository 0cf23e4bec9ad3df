using LaserWatch.Monitoring;

namespace LaserWatch.Models;

/// <summary>How the air is at one job while all is well: where people set it, how it scatters, what the nozzle lets through.</summary>
/// <remarks>Pressures are in percent off the recorded value. All the starting beliefs are common practice without a source.</remarks>
internal sealed class AirHabit
{
    private const int RunsThatTeach = 3;
    private const double BlocksThatTeach = 20;

    /// <summary>Blocks within a run scatter by about 1 % before anything is known.</summary>
    private const double BlockDeviationAtFirst = 1;
    private const double BlockDeviationWeight = 10;
    private const double MostBlocks = 2000;

    private double _blockSquares;
    private double _blocks;
    private int _runs;
    private string? _job;
    private double _recorded;

    public string? Job { get => _job; init => _job = value; }

    /// <summary>The recorded pressure it was learned at, kPa; at another record it is of no use.</summary>
    public double Recorded { get => _recorded; init => _recorded = value; }

    /// <summary>Percent off the record, one observation each time somebody may have set the regulator.</summary>
    public LearnedLevel Setting { get; } = new();

    /// <summary>Natural logarithm of the nozzle's sonic conductance in dm³/(s·bar), one observation a run.</summary>
    public LearnedLevel Conductance { get; } = new();

    /// <summary>A gauge is read to some 1.5 %, and to no better than 1.5 kPa.</summary>
    public LevelPrior SettingPrior
    {
        get
        {
            var gauge = 100 * 1.5 / _recorded;
            return new(0, 0.25, Math.Sqrt((1.5 * 1.5) + (gauge * gauge)), 6);
        }
    }

    /// <summary>Any nozzle may be fitted, but it stays one; a cheap flow sensor scatters by some 4 %.</summary>
    public static LevelPrior ConductancePrior { get; } = new(-1, 1e-6, 0.04, 6);

    /// <summary>Standard deviation of a block's mean pressure about its run's, in percent of the record.</summary>
    public double BlockDeviation => Math.Sqrt(
        ((BlockDeviationWeight * BlockDeviationAtFirst * BlockDeviationAtFirst) + _blockSquares) / (BlockDeviationWeight + _blocks));

    /// <summary>How the pressure moves within a run is known well enough to judge by.</summary>
    public bool KnowsRuns => _runs >= RunsThatTeach && _blocks >= BlocksThatTeach;

    /// <summary>The nozzle's usual conductance, dm³/(s·bar); null until three runs have told it.</summary>
    public double? UsualConductance => Conductance.Count >= RunsThatTeach ? Math.Exp(Conductance.Level(ConductancePrior)) : null;

    /// <summary>Where people set it, in kPa; null until three settings have told it.</summary>
    public double? UsualPressure => Setting.Count >= RunsThatTeach ? _recorded * (1 + (Setting.Level(SettingPrior) / 100)) : null;

    /// <summary>Takes a healthy run's inner scatter: the sum of squares of its blocks about their mean, and how many of them were free.</summary>
    public void LearnRun(double squares, int free)
    {
        _runs = Math.Min(_runs + 1, 1000);
        _blockSquares += squares;
        _blocks += free;
        if (_blocks > MostBlocks)
            (_blockSquares, _blocks) = (_blockSquares * MostBlocks / _blocks, MostBlocks);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _job);
        state.Walk(ref _recorded);
        state.Walk(ref _blockSquares);
        state.Walk(ref _blocks);
        state.Walk(ref _runs);
        Setting.Visit(state);
        Conductance.Visit(state);
    }
}
