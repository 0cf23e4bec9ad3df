using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Statistics;

namespace LaserWatch.Models;

/// <summary>The pressure of one run in blocks of half a minute, and whether its level has moved since the run began.</summary>
/// <remarks>
/// Each block is held against the mean of the run's blocks before it, as recursive residuals are (Brown, Durbin and Evans, J. R. Stat. Soc. B 37
/// (1975) 149, from memory), so that where the regulator was set for this run does not matter; a two-sided CUSUM adds them up.
/// </remarks>
internal sealed class AirBlocks(CusumDesign design)
{
    private const double BlockSeconds = 30;
    private const int LeastSamples = 3;
    private const double LeastRunSeconds = 10;
    private const double MostScore = 4;

    private readonly Cusum _cusum = new(design);
    private double _sum;
    private double _seconds;
    private int _samples;
    private double _runSum;
    private double _runSeconds;
    private int _runSamples;
    private double _flowSum;
    private int _flows;
    private int _blocks;
    private double _mean;
    private double _squares;
    private double _newest;
    private double _second;
    private double _beforeRise;
    private double _beforeFall;

    /// <summary>Enough of the run was steady to say where its pressure was.</summary>
    public bool IsEnough => _runSeconds >= LeastRunSeconds && _runSamples >= LeastSamples;

    /// <summary>Mean pressure of the run's steady part, percent off the record.</summary>
    public double RunMean => _runSum / _runSeconds;

    /// <summary>Sum of squares of the blocks about their mean, percent².</summary>
    public double Squares => _squares;

    public int Blocks => _blocks;

    /// <summary>Mean of the newest two blocks, percent off the record.</summary>
    public double Recent => _blocks < 2 ? _newest : (_newest + _second) / 2;

    /// <summary>The newest block lies by more than half of the way from the level before to the present one: it came at once.</summary>
    public AirOnset Onset { get; private set; }

    /// <summary>Mean nozzle conductance over the run, dm³/(s·bar); null without flow or pressure.</summary>
    public double? Conductance(double recorded) => _flows < LeastSamples ? null
        : SonicConductance.OfNozzle(_flowSum / _flows, recorded * (1 + (RunMean / 100)));

    public void Begin()
    {
        _sum = _seconds = _runSum = _runSeconds = _flowSum = _mean = _squares = _newest = _second = _beforeRise = _beforeFall = 0;
        _samples = _runSamples = _flows = _blocks = 0;
        Onset = AirOnset.Unknown;
        _cusum.Reset();
    }

    public void TakeFlow(double litresPerMinute)
    {
        _flowSum += litresPerMinute;
        _flows++;
    }

    /// <summary>Takes a steady pressure; true where it has filled a block.</summary>
    /// <param name="percent">Percent off the record.</param>
    /// <param name="seconds">How long it stands for.</param>
    public bool Take(double percent, double seconds)
    {
        _runSum += percent * seconds;
        _runSeconds += seconds;
        _runSamples++;
        _sum += percent * seconds;
        _seconds += seconds;
        _samples++;
        return _seconds >= BlockSeconds && _samples >= LeastSamples;
    }

    /// <summary>Closes the filled block; how far the run's level has moved by then, in percent of the record; 0 where it has not.</summary>
    /// <param name="deviation">Standard deviation of a block about its run's mean, percent; null where not known yet.</param>
    public double Close(double? deviation)
    {
        var block = _sum / _seconds;
        (_sum, _seconds, _samples) = (0, 0, 0);
        var side = CusumSide.None;
        if (_blocks > 0 && deviation is { } sigma)
        {
            var score = (block - _mean) / (sigma * Math.Sqrt(1 + (1.0 / _blocks)));
            side = _cusum.Update(Math.Clamp(score, -MostScore, MostScore));
        }

        _blocks++;
        var off = block - _mean;
        _mean += off / _blocks;
        _squares += off * (block - _mean);
        if (_cusum.Upper == 0)
            _beforeRise = _mean;
        if (_cusum.Lower == 0)
            _beforeFall = _mean;
        _second = _blocks == 1 ? block : _newest;
        _newest = block;
        if (side == CusumSide.None)
            return 0;
        var before = side == CusumSide.Upper ? _beforeRise : _beforeFall;
        var blocksSince = side == CusumSide.Upper ? _cusum.UpperRun : _cusum.LowerRun;
        // A step is told from its third block or so on; what took longer grew.
        Onset = blocksSince <= 4 ? AirOnset.Sudden : AirOnset.Gradual;
        _cusum.Reset();
        return Recent - before;
    }

    public void Visit(StateVisitor state)
    {
        _cusum.Visit(state);
        state.Walk(ref _sum);
        state.Walk(ref _seconds);
        state.Walk(ref _samples);
        state.Walk(ref _runSum);
        state.Walk(ref _runSeconds);
        state.Walk(ref _runSamples);
        state.Walk(ref _flowSum);
        state.Walk(ref _flows);
        state.Walk(ref _blocks);
        state.Walk(ref _mean);
        state.Walk(ref _squares);
        state.Walk(ref _newest);
        state.Walk(ref _second);
        state.Walk(ref _beforeRise);
        state.Walk(ref _beforeFall);
        var onset = Onset;
        state.Walk(ref onset);
        Onset = onset;
    }
}
