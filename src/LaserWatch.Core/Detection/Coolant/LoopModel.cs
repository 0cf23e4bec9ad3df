using LaserWatch.Monitoring;

namespace LaserWatch.Detection.Coolant;

/// <summary>A coolant loop as one heat store, in five-minute means: what it does next, and where it would rest.</summary>
/// <remarks>
/// next = a·now + b·room + c₀·load + c₁·load before + d: the exact answer of a first-order loop to a load that changes between blocks.
/// Time constant −300 s / ln a; room coupling b/(1 − a), 1 for a radiator and 0 for a chiller; (c₀ + c₁)/(1 − a) kelvins at full load. Learned by
/// recursive least squares with weak priors (Ljung, System Identification, ch. 11, from memory), so the uncertainty of every parameter is
/// known. What is well known hardly moves any more, which is what holds the resting point: a slow
/// fault cannot be learned away, while a room or a load never met before still can be learned.
/// </remarks>
internal sealed class LoopModel
{
    public const int Size = 5;

    private const double Centre = 22;
    private const double LongMemory = 1000;
    private const double GreatestCoupling = 1.1;
    private const double BlocksOfMean = 24;

    // Priors: a loop that forgets half in some minutes, follows the room by half, and warms by some kelvins at full load. The covariance
    // is in units of the errors' variance (normal-inverse-gamma), so it does not depend on how large that turns out to be.
    private double[] _theta = [0.5, 0.25, 0.5, 0.5, 0];
    private double[] _covariance = Diagonal(200, 200, 1e4, 1e4, 6e4);
    private double _noiseSum = 0.0025 * 2;
    private double _noiseCount = 2;
    private double _lagSum, _lagSquares, _lastError, _mean;
    private double _roomLow = double.PositiveInfinity, _roomHigh = double.NegativeInfinity, _loadHigh;

    /// <summary>Blocks learned from since the start or the last <see cref="Loosen"/>.</summary>
    public int Learned { get; private set; }

    public HeatLoadKind Kind { get; private set; }

    /// <summary>Variance of one prediction error, K².</summary>
    public double Noise => _noiseSum / _noiseCount;

    /// <summary>First-order autocorrelation of the prediction errors, 0 … 0.9; a negative one counts as none.</summary>
    public double Autocorrelation => Math.Clamp(_lagSum / (_lagSquares + (8 * Noise)), 0, 0.9);

    /// <summary>Variance of the errors in the long run: of a mean of n errors it is this over n.</summary>
    public double LongRunVariance => Noise * (1 + Autocorrelation) / (1 - Autocorrelation);

    /// <summary>What remains of a deviation after one block.</summary>
    public double Decay => Math.Clamp(_theta[0], -0.9, 0.98);

    /// <summary>Share of a lasting shift of the resting point that shows in one prediction error.</summary>
    public double Gain => 1 - Decay;

    /// <summary>Kelvins of coolant per kelvin of room, 0 … 1.</summary>
    public double RoomCoupling => Math.Clamp(_theta[1] / Gain, 0, 1);

    public double KelvinsAtFullLoad => (_theta[2] + _theta[3]) / Gain;

    public static void Row(Span<double> row, in CoolantBlock before, in CoolantBlock now)
    {
        row[0] = before.Coolant - Centre;
        row[1] = now.Room - Centre;
        row[2] = now.Load;
        row[3] = before.Load;
        row[4] = 1;
    }

    /// <summary>The next block's coolant, °C.</summary>
    public double Predict(ReadOnlySpan<double> row)
    {
        var sum = Centre;
        for (var i = 0; i < Size; i++)
            sum += _theta[i] * row[i];
        return sum;
    }

    /// <summary>Variance of the prediction by the parameters' own uncertainty, K².</summary>
    public double Spread(ReadOnlySpan<double> row) => Leverage(row) * LongRunVariance;

    /// <summary>The same in units of one error's variance: how new the ground is.</summary>
    public double Leverage(ReadOnlySpan<double> row)
    {
        var sum = 0.0;
        for (var i = 0; i < Size; i++)
        {
            for (var j = 0; j < Size; j++)
                sum += row[i] * _covariance[(i * Size) + j] * row[j];
        }

        return Math.Max(0, sum);
    }

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
        var rest = ((_theta[1] * (room - Centre)) + ((_theta[2] + _theta[3]) * load) + _theta[4]) / gain;
        Span<double> gradient = [rest, room - Centre, load, load, 1];
        return (rest + Centre, Math.Sqrt(Spread(gradient)) / gain);
    }

    /// <summary>Learns from one block; <paramref name="error"/> is measured less predicted, in kelvins.</summary>
    public void Learn(ReadOnlySpan<double> row, in CoolantBlock now, double error)
    {
        if (Learned == 0)
            Kind = now.Kind;
        var total = 1.0;
        Span<double> projected = stackalloc double[Size];
        for (var j = 0; j < Size; j++)
        {
            projected[j] = 0;
            for (var i = 0; i < Size; i++)
                projected[j] += row[i] * _covariance[(i * Size) + j];
            total += projected[j] * row[j];
        }

        var reach = 4 * Math.Sqrt(Noise * total);
        var bounded = Math.Clamp(error, -reach, reach);
        for (var i = 0; i < Size; i++)
        {
            _theta[i] += projected[i] * bounded / total;
            for (var j = 0; j < Size; j++)
                _covariance[(i * Size) + j] -= projected[i] * projected[j] / total;
        }

        Bound();
        Hear(bounded / Math.Sqrt(total));
        _roomLow = Math.Min(_roomLow, now.Room);
        _roomHigh = Math.Max(_roomHigh, now.Room);
        _loadHigh = Math.Max(_loadHigh, now.Load);
        Learned++;
    }

    /// <summary>Follows the errors' size and autocorrelation over a long time, without touching the parameters.</summary>
    /// <remarks>About their own mean of the last hours: else a slow drift would pass for noise, and hide itself.</remarks>
    public void Listen(double error)
    {
        _mean += (error - _mean) / BlocksOfMean;
        Hear(error - _mean);
    }

    private void Hear(double error)
    {
        if (_noiseCount >= LongMemory)
        {
            var keep = 1 - (1 / LongMemory);
            _noiseSum *= keep;
            _noiseCount *= keep;
            _lagSum *= keep;
            _lagSquares *= keep;
        }

        _noiseSum += error * error;
        _noiseCount++;
        _lagSum += error * _lastError;
        _lagSquares += error * error;
        _lastError = error;
    }

    /// <summary>The loop was worked on: its rest, load and room answers must be learned anew, near what they were.</summary>
    public void Loosen()
    {
        var looser = Diagonal(0.02, 0.02, 1, 1, 4);
        for (var i = 0; i < looser.Length; i++)
            _covariance[i] += looser[i] / Noise;
        (_roomLow, _roomHigh, _loadHigh) = (double.PositiveInfinity, double.NegativeInfinity, 0);
        Learned = 0;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _theta);
        state.Walk(ref _covariance);
        state.Walk(ref _noiseSum);
        state.Walk(ref _noiseCount);
        state.Walk(ref _lagSum);
        state.Walk(ref _lagSquares);
        state.Walk(ref _lastError);
        state.Walk(ref _mean);
        state.Walk(ref _roomLow);
        state.Walk(ref _roomHigh);
        state.Walk(ref _loadHigh);
        var (learned, kind) = (Learned, Kind);
        state.Walk(ref learned);
        state.Walk(ref kind);
        (Learned, Kind) = (learned, kind);
        if (state.IsLoading && (_theta.Length != Size || _covariance.Length != Size * Size))
            StateVisitor.Refuse();
    }

    /// <summary>
    /// No loop follows the room by less than nothing or by more than all: projects the estimate onto that bound along its uncertainty
    /// (Simon and Chia, Kalman filtering with state equality constraints, IEEE Trans. AES 38 (2002) 128, from memory).
    /// </summary>
    private void Bound()
    {
        var coupling = _theta[1] / (1 - _theta[0]);
        if (_theta[0] > 0.98)
            Project(1, 0, 0.98);
        if (coupling < 0)
            Project(0, 1, 0);
        else if (coupling > GreatestCoupling)
            Project(GreatestCoupling, 1, GreatestCoupling);
    }

    private void Project(double onDecay, double onRoom, double value)
    {
        var off = (onDecay * _theta[0]) + (onRoom * _theta[1]) - value;
        var scale = (onDecay * ((onDecay * _covariance[0]) + (onRoom * _covariance[1])))
            + (onRoom * ((onDecay * _covariance[Size]) + (onRoom * _covariance[Size + 1])));
        if (scale <= 0)
            return;
        for (var i = 0; i < Size; i++)
            _theta[i] -= ((onDecay * _covariance[i * Size]) + (onRoom * _covariance[(i * Size) + 1])) * off / scale;
    }

    private static double[] Diagonal(params ReadOnlySpan<double> values)
    {
        var matrix = new double[values.Length * values.Length];
        for (var i = 0; i < values.Length; i++)
            matrix[(i * values.Length) + i] = values[i];
        return matrix;
    }
}
