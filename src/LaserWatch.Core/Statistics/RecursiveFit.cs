using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Linear least squares, one row at a time, with weak priors: the parameters, how well they are known, and what the errors are like.</summary>
/// <remarks>
/// Recursive least squares without forgetting (Ljung, System Identification, ch. 11, from memory): what is well known hardly moves any more.
/// The covariance is kept in units of the errors' variance (normal-inverse-gamma), so it does not depend on how large that
/// turns out to be. Once the errors' size is known, those beyond four standard deviations teach no more than four would; before that
/// every error counts in full, or a loud machine would be learned wrongly for good.
/// </remarks>
internal sealed class RecursiveFit
{
    private const double Outlier = 4;
    private const double LongMemory = 1000;
    private const double RowsOfMean = 24;
    private const double GreatestCorrelation = 0.9;

    private readonly int _size;
    private double[] _theta;
    private double[] _covariance;
    private double _noiseSum, _noiseCount = 2;
    private double _lagSum, _lagSquares, _lastError, _mean;

    /// <param name="prior">First guess of each parameter.</param>
    /// <param name="variances">How unsure each is, in units of the errors' variance.</param>
    /// <param name="noise">First guess of the errors' variance; counts for two rows.</param>
    public RecursiveFit(ReadOnlySpan<double> prior, ReadOnlySpan<double> variances, double noise)
    {
        _size = prior.Length;
        _theta = prior.ToArray();
        _covariance = new double[_size * _size];
        for (var i = 0; i < _size; i++)
            _covariance[(i * _size) + i] = variances[i];
        _noiseSum = noise * _noiseCount;
    }

    /// <summary>Rows learned from since the start or the last <see cref="Loosen"/>.</summary>
    public int Learned { get; private set; }

    /// <summary>Variance of one error.</summary>
    public double Noise => _noiseSum / _noiseCount;

    /// <summary>First-order autocorrelation of the errors, 0 … 0.9; a negative one counts as none.</summary>
    public double Autocorrelation => Math.Clamp(_lagSum / (_lagSquares + (8 * Noise)), 0, GreatestCorrelation);

    /// <summary>Variance of the errors in the long run: of a mean of n errors it is this over n.</summary>
    /// <remarks>As for a first-order autoregression: σ²·(1 + φ)/(1 − φ).</remarks>
    public double LongRunVariance => Noise * (1 + Autocorrelation) / (1 - Autocorrelation);

    public double this[int parameter] => _theta[parameter];

    public double Predict(ReadOnlySpan<double> row)
    {
        var sum = 0.0;
        for (var i = 0; i < _size; i++)
            sum += _theta[i] * row[i];
        return sum;
    }

    /// <summary>Variance of a prediction by the parameters' own uncertainty, in units of one error's variance: how new the ground is.</summary>
    public double Leverage(ReadOnlySpan<double> row)
    {
        var sum = 0.0;
        for (var i = 0; i < _size; i++)
        {
            for (var j = 0; j < _size; j++)
                sum += row[i] * _covariance[(i * _size) + j] * row[j];
        }

        return Math.Max(0, sum);
    }

    /// <summary>The same as a variance; coloured errors teach less than so many rows would.</summary>
    public double Spread(ReadOnlySpan<double> row) => Leverage(row) * LongRunVariance;

    /// <param name="row">One value a parameter.</param>
    /// <param name="error">Measured less predicted.</param>
    public void Learn(ReadOnlySpan<double> row, double error)
    {
        var total = 1.0;
        Span<double> projected = stackalloc double[_size];
        for (var j = 0; j < _size; j++)
        {
            projected[j] = 0;
            for (var i = 0; i < _size; i++)
                projected[j] += row[i] * _covariance[(i * _size) + j];
            total += projected[j] * row[j];
        }

        var reach = _noiseCount < RowsOfMean ? double.PositiveInfinity : Outlier * Math.Sqrt(Noise * total);
        var bounded = Math.Clamp(error, -reach, reach);
        for (var i = 0; i < _size; i++)
        {
            _theta[i] += projected[i] * bounded / total;
            for (var j = 0; j < _size; j++)
                _covariance[(i * _size) + j] -= projected[i] * projected[j] / total;
        }

        Hear(bounded / Math.Sqrt(total));
        Learned++;
    }

    /// <summary>Follows the errors' size and autocorrelation over a long time, without touching the parameters.</summary>
    /// <remarks>About their own mean of the last rows: else a slow drift would pass for noise, and hide itself.</remarks>
    public void Listen(double error)
    {
        _mean += (error - _mean) / RowsOfMean;
        Hear(error - _mean);
    }

    /// <summary>What is described has changed: learn it anew, near what it was.</summary>
    /// <param name="variances">By how much each parameter may have moved, squared.</param>
    public void Loosen(ReadOnlySpan<double> variances)
    {
        for (var i = 0; i < _size; i++)
            _covariance[(i * _size) + i] += variances[i] / Noise;
        Learned = 0;
    }

    /// <summary>Moves the estimate along its own uncertainty until direction·θ is the value.</summary>
    /// <remarks>Simon and Chia, Kalman filtering with state equality constraints, IEEE Trans. AES 38 (2002) 128, from memory.</remarks>
    public void Project(ReadOnlySpan<double> direction, double value)
    {
        var scale = Leverage(direction);
        if (scale <= 0)
            return;
        var off = (Predict(direction) - value) / scale;
        for (var i = 0; i < _size; i++)
        {
            for (var j = 0; j < _size; j++)
                _theta[i] -= _covariance[(i * _size) + j] * direction[j] * off;
        }
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
        var learned = Learned;
        state.Walk(ref learned);
        Learned = learned;
        if (state.IsLoading && (_theta.Length != _size || _covariance.Length != _size * _size))
            StateVisitor.Refuse();
    }

    private void Hear(double error)
    {
        if (_noiseCount >= LongMemory)
        {
            const double Keep = 1 - (1 / LongMemory);
            _noiseSum *= Keep;
            _noiseCount *= Keep;
            _lagSum *= Keep;
            _lagSquares *= Keep;
        }

        _noiseSum += error * error;
        _noiseCount++;
        _lagSum += error * _lastError;
        _lagSquares += error * error;
        _lastError = error;
    }
}
