using LaserWatch.Monitoring;
using LaserWatch.Statistics;

namespace LaserWatch.Models;

/// <summary>A coolant loop as one heat store, in five-minute means: what it does next, and where it would rest.</summary>
/// <remarks>
/// next = a·now + b·room + c₀·load + c₁·load before + d: the exact answer of a first-order loop to a load that changes between blocks.
/// Time constant −300 s / ln a; room coupling b/(1 − a), 1 for a radiator and 0 for a chiller; (c₀ + c₁)/(1 − a) kelvins at full load. What is
/// well known hardly moves any more, which is what holds the resting point: a slow fault cannot be learned away, while a room or a load
/// never met before still can be learned.
/// </remarks>
internal sealed class LoopModel
{
    public const int Size = 5;

    private const double Centre = 22;
    private const double GreatestCoupling = 1.1;
    private const double GreatestDecay = 0.98;
    private const double LeastRiseThatTells = 1;
    private const double HighRises = 0.9;

    // Priors: a loop that forgets half in some minutes, follows the room by half, and warms by some kelvins at full load.
    private readonly RecursiveFit _fit = new([0.5, 0.25, 0.5, 0.5, 0], [200, 200, 1e4, 1e4, 6e4], 0.0025);
    private double _roomLow = double.PositiveInfinity, _roomHigh = double.NegativeInfinity, _loadHigh;
    private double _rise, _riseWeight;

    /// <summary>Blocks learned from since the start or the last <see cref="Loosen"/>.</summary>
    public int Learned => _fit.Learned;

    public HeatLoadKind Kind { get; private set; }

    /// <summary>Variance of one prediction error, K².</summary>
    public double Noise => _fit.Noise;

    /// <summary>Variance of the errors in the long run, K²: of a mean of n errors it is this over n.</summary>
    public double LongRunVariance => _fit.LongRunVariance;

    /// <summary>What remains of a deviation after one block.</summary>
    public double Decay => Math.Clamp(_fit[0], -0.9, GreatestDecay);

    /// <summary>Share of a lasting shift of the resting point that shows in one prediction error.</summary>
    public double Gain => 1 - Decay;

    /// <summary>Kelvins of coolant per kelvin of room, 0 … 1.</summary>
    public double RoomCoupling => Math.Clamp(_fit[1] / Gain, 0, 1);

    /// <summary>The room cools the coolant, rather than a machine with a set point.</summary>
    public bool IsRadiator => RoomCoupling > 0.5;

    public double KelvinsAtFullLoad => (_fit[2] + _fit[3]) / Gain;

    /// <summary>
    /// Coolant above room at full work, in kelvins, for which a shift under a radiator is told: the 0.9 expectile of the learned blocks
    /// (Newey and Powell, Econometrica 55 (1987) 819, from memory), since a radiator at rest says nothing of how well it cools. Null for a chiller.
    /// </summary>
    public double? RiseAtWork => IsRadiator && _rise >= LeastRiseThatTells ? _rise : null;

    public static void Row(Span<double> row, in CoolantBlock before, in CoolantBlock now)
    {
        row[0] = before.Coolant - Centre;
        row[1] = now.Room - Centre;
        row[2] = now.Load;
        row[3] = before.Load;
        row[4] = 1;
    }

    /// <summary>The next block's coolant, °C.</summary>
    public double Predict(ReadOnlySpan<double> row) => Centre + _fit.Predict(row);

    /// <summary>Variance of the prediction by the parameters' own uncertainty, K².</summary>
    public double Spread(ReadOnlySpan<double> row) => _fit.Spread(row);

    /// <summary>How new the ground is; far below 1 where much was learned nearby.</summary>
    public double Leverage(ReadOnlySpan<double> row) => _fit.Leverage(row);

    /// <summary>
    /// How far the resting point may lie off, in kelvins, because the room or the load is outside all that was learned from: beyond
    /// it the coolant may follow the room one for one, whatever it did before (a chiller out of its depth, or without a heater).
    /// </summary>
    public double Outside(double room, double load)
    {
        const double KelvinsOfUnknownLoad = 10;
        var off = Math.Max(0, Math.Max(room - _roomHigh, _roomLow - room));
        return ((1 - RoomCoupling) * off) + (KelvinsOfUnknownLoad * Math.Max(0, load - _loadHigh));
    }

    /// <summary>Where the loop would rest, °C, and the standard error of that by the parameters' uncertainty.</summary>
    public (double Celsius, double Error) Resting(double room, double load)
    {
        var gain = Gain;
        var rest = ((_fit[1] * (room - Centre)) + ((_fit[2] + _fit[3]) * load) + _fit[4]) / gain;
        Span<double> gradient = [rest, room - Centre, load, load, 1];
        return (rest + Centre, Math.Sqrt(Spread(gradient)) / gain);
    }

    /// <summary>Learns from one block; <paramref name="error"/> is measured less predicted, in kelvins.</summary>
    public void Learn(ReadOnlySpan<double> row, in CoolantBlock now, double error)
    {
        if (Learned == 0)
            Kind = now.Kind;
        _fit.Learn(row, error);
        Bound();
        _roomLow = Math.Min(_roomLow, now.Room);
        _roomHigh = Math.Max(_roomHigh, now.Room);
        _loadHigh = Math.Max(_loadHigh, now.Load);
        var rise = Math.Max(0, now.Coolant - now.Room);
        var weight = rise > _rise ? HighRises : 1 - HighRises;
        _riseWeight += weight;
        _rise += (rise - _rise) * weight / _riseWeight;
    }

    /// <summary>Follows the errors' size and autocorrelation, without touching the parameters.</summary>
    public void Listen(double error) => _fit.Listen(error);

    /// <summary>The loop was worked on: its rest, load and room answers must be learned anew, near what they were.</summary>
    public void Loosen()
    {
        _fit.Loosen([0.02, 0.02, 1, 1, 4]);
        (_roomLow, _roomHigh, _loadHigh) = (double.PositiveInfinity, double.NegativeInfinity, 0);
        (_rise, _riseWeight) = (0, 0);
    }

    public void Visit(StateVisitor state)
    {
        _fit.Visit(state);
        state.Walk(ref _roomLow);
        state.Walk(ref _roomHigh);
        state.Walk(ref _loadHigh);
        state.Walk(ref _rise);
        state.Walk(ref _riseWeight);
        var kind = Kind;
        state.Walk(ref kind);
        Kind = kind;
    }

    /// <summary>No loop follows the room by less than nothing or by much more than all of it.</summary>
    private void Bound()
    {
        if (_fit[0] > GreatestDecay)
            _fit.Project([1, 0, 0, 0, 0], GreatestDecay);
        var coupling = _fit[1] / (1 - _fit[0]);
        if (coupling < 0)
            _fit.Project([0, 1, 0, 0, 0], 0);
        else if (coupling > GreatestCoupling)
            _fit.Project([GreatestCoupling, 1, 0, 0, 0], GreatestCoupling);
    }
}
