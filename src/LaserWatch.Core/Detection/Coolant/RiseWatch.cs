using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>The heat balance of the tube: how much the coolant warms in it at a given load, learned, and tested for a fall of flow.</summary>
/// <remarks>
/// rise = g·load + z − λ·(change of the inlet), in means of one minute: at like heat g is in inverse ratio to flow; z is what the two sensors
/// disagree by at rest; λ is the lag between them while the inlet moves. The load passes a lag of its own first, that of jacket and sensor.
/// The test is the cumulative sum of log likelihood ratios of the smallest fall of flow worth telling against none (Page 1954; its mean
/// time between false alarms is at least e^h, Lorden 1971, Annals of Mathematical Statistics 42:1897, from memory), with the errors' long-run variance.
/// It cannot see lost light: a fifth of a tube's light more in the water changes g by some 4 %.
/// </remarks>
internal sealed class RiseWatch(CoolantOptions options)
{
    private const int Size = 3;
    private const double BlockSeconds = 60;
    private const double LagSeconds = 40;
    private const double LongestStep = 120;
    private const double LeastLoad = 0.05;
    private const int MinutesThatTeach = 60;
    private const int MinutesThatAreEnough = 600;
    private const int LeastSinceChange = 3;
    private const int ClearMinutes = 10;
    private const double UseMinutesPerYear = 1500 * 60;

    private double[] _theta = [2, 0, 0];
    private double[] _covariance = [9, 0, 0, 0, 4, 0, 0, 0, 1];
    private double _noiseSum = 0.04 * 2, _noiseCount = 2;
    private double _lagSum, _lagSquares, _lastError;
    private int _learned;
    private Instant? _start;
    private Instant _last;
    private double _seconds, _rise, _load, _in, _watts, _wattSeconds, _lagged;
    private double? _inBefore;
    private HeatLoadKind _kind, _learnedKind;
    private double _sum;
    private int _n;
    private double _l, _ll, _e, _le, _ee;
    private int _clear;
    private double _lateLoad, _lateError;

    /// <summary>By the heat balance the flow is lower than tolerated.</summary>
    public bool IsLow { get; private set; }

    public bool IsTaught => _learned >= MinutesThatTeach;

    public double HoursLearned => _learned / 60.0;

    public static double HoursThatTeach => MinutesThatTeach / 60.0;

    /// <summary>Flow as a fraction of the usual one, since the change if one is told, else over the last minutes; null where not known.</summary>
    public double? FlowRatio => RatioNow is { } ratio ? HeatBalance.FlowRatio(1, ratio) : null;

    /// <summary>Rise per load against the learned one.</summary>
    public double? RatioNow
    {
        get
        {
            if (!IsTaught || _theta[0] <= 0)
                return null;
            if (_n >= LeastSinceChange && _ll > 0)
                return Math.Max(0.05, 1 + (_le / _ll / _theta[0]));
            return _lateLoad > 0 ? Math.Max(0.05, 1 + (_lateError / _lateLoad / _theta[0])) : null;
        }
    }

    /// <summary>Standard error of <see cref="RatioNow"/>.</summary>
    public double RatioError => _n >= LeastSinceChange && _ll > 0
        ? Math.Sqrt(LongRunVariance / _ll) / _theta[0]
        : _lateLoad > 0 ? Math.Sqrt(LongRunVariance / (_lateLoad * 10)) / _theta[0] : 0;

    /// <summary>How far outlet less inlet has moved at any load alike, in kelvins, where that fits better than a change in proportion to load; else 0; null where not known.</summary>
    public double? ZeroMoved => !IsTaught ? null : _n >= LeastSinceChange && ZeroFitsBetter ? _e / _n : 0;

    /// <summary>Kelvins the coolant warms in the tube at full load, as learned.</summary>
    public double KelvinsAtFullLoad => _theta[0];

    /// <summary>Heat in the newest minute, watts; null where flow is not measured.</summary>
    public double? Watts { get; private set; }

    private double Noise => _noiseSum / _noiseCount;

    private double LongRunVariance
    {
        get
        {
            var correlation = _lagSquares <= 0 ? 0 : Math.Clamp(_lagSum / _lagSquares, 0, 0.9);
            return Noise * (1 + correlation) / (1 - correlation);
        }
    }

    // A sensor's own error is the same with and without the beam.
    private bool ZeroFitsBetter => _ll > 0 && (_e * _e / _n) - (_le * _le / _ll) > 9 * Noise;

    /// <summary>True where a minute was closed and judged.</summary>
    public bool Follow(Reading reading)
    {
        if (!reading.Has(Channel.CoolantIn, TimeSpan.FromMinutes(2)) || !reading.Has(Channel.CoolantOut, TimeSpan.FromMinutes(2))
            || !reading.Fresh.Has(Channel.CoolantOut))
            return false;
        var at = reading.TimeOf(Channel.CoolantOut);
        var load = HeatLoad.Of(reading, out var kind);
        var step = _start is null ? 0 : at.SecondsSince(_last);
        if (_start is null || step is > LongestStep or < 0)
        {
            (_inBefore, _lagged) = (null, load);
            Begin(at, kind);
            step = 0;
        }

        _last = at;
        _lagged += (load - _lagged) * (1 - Math.Exp(-step / LagSeconds));
        var weight = Math.Max(step, 1e-3);
        var rise = reading[Channel.CoolantOut] - reading[Channel.CoolantIn];
        _seconds += weight;
        _rise += weight * rise;
        _in += weight * reading[Channel.CoolantIn];
        // Samples far apart have settled between them: the load of the time in between is then the better guess.
        _load += weight * (step > LagSeconds ? load : _lagged);
        if (reading.Has(Channel.CoolantFlow, TimeSpan.FromMinutes(2)))
        {
            _watts += weight * Water.HeatFlowWatts(reading[Channel.CoolantFlow], reading[Channel.CoolantIn], reading[Channel.CoolantOut]);
            _wattSeconds += weight;
        }

        if (kind != _kind || reading.Run is { IsRaster: true } && kind != HeatLoadKind.Current)
            _kind = HeatLoadKind.None;
        if (at.SecondsSince(_start!.Value) < BlockSeconds)
            return false;

        var inlet = _in / _seconds;
        Watts = _wattSeconds > 0 ? _watts / _wattSeconds : null;
        var used = reading.BeamLastOn is { } on && at.SecondsSince(on) < 3 * BlockSeconds;
        if (_inBefore is { } before && used && _kind != HeatLoadKind.None)
            Take(_rise / _seconds, _load / _seconds, inlet - before);
        _inBefore = inlet;
        Begin(at, kind);
        return true;
    }

    /// <summary>Tube, pump or coolant were worked on.</summary>
    public void Restart()
    {
        ReadOnlySpan<double> looser = [1, 0, 0, 0, 0.5, 0, 0, 0, 0.1];
        for (var i = 0; i < looser.Length; i++)
            _covariance[i] += looser[i];
        _learned = 0;
        IsLow = false;
        Forget();
        (_lateLoad, _lateError) = (0, 0);
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
        state.Walk(ref _learned);
        state.Walk(ref _start);
        state.Walk(ref _last);
        state.Walk(ref _seconds);
        state.Walk(ref _rise);
        state.Walk(ref _load);
        state.Walk(ref _in);
        state.Walk(ref _watts);
        state.Walk(ref _wattSeconds);
        state.Walk(ref _lagged);
        state.Walk(ref _inBefore);
        state.Walk(ref _kind);
        state.Walk(ref _learnedKind);
        state.Walk(ref _sum);
        state.Walk(ref _n);
        state.Walk(ref _l);
        state.Walk(ref _ll);
        state.Walk(ref _e);
        state.Walk(ref _le);
        state.Walk(ref _ee);
        state.Walk(ref _clear);
        state.Walk(ref _lateLoad);
        state.Walk(ref _lateError);
        var (low, watts) = (IsLow, Watts);
        state.Walk(ref low);
        state.Walk(ref watts);
        (IsLow, Watts) = (low, watts);
        if (state.IsLoading && (_theta.Length != Size || _covariance.Length != Size * Size))
            StateVisitor.Refuse();
    }

    private void Begin(Instant at, HeatLoadKind kind)
    {
        _start = at;
        (_seconds, _rise, _load, _in, _watts, _wattSeconds) = (0, 0, 0, 0, 0, 0);
        _kind = kind;
    }

    private void Take(double rise, double load, double change)
    {
        if (_learned == 0)
            _learnedKind = _kind;
        if (_kind != _learnedKind)
            return;
        Span<double> row = [load, 1, -change];
        var error = rise - (_theta[0] * row[0]) - (_theta[1] * row[1]) - (_theta[2] * row[2]);
        if (IsTaught)
            Test(error, load);
        if (!IsTaught || (_learned < MinutesThatAreEnough && !IsLow && _sum < Threshold / 2 && error * error < 9 * LongRunVariance))
            Learn(row, error);
    }

    private double Threshold => Math.Log(options.DriftFalseAlarmYears * UseMinutesPerYear);

    private void Test(double error, double load)
    {
        // The smallest fall of flow worth telling raises the rise by this share.
        var share = (1 / (1 - options.FlowTolerance)) - 1;
        var expected = share * _theta[0] * load;
        var increment = ((expected * error) - (expected * expected / 2)) / LongRunVariance;
        _sum = Math.Max(0, _sum + Math.Clamp(increment, -Threshold / 2, Threshold / 2));
        if (_sum <= 0)
            Forget();
        else
            Remember(error, load);
        if (load > LeastLoad)
        {
            _lateLoad += ((load * load) - _lateLoad) * 0.1;
            _lateError += ((load * error) - _lateError) * 0.1;
        }

        if (!IsLow)
        {
            _clear = 0;
            // What grows slowly is larger now than since its beginning.
            var now = _lateLoad > 0 ? 1 + (_lateError / _lateLoad / _theta[0]) : 1;
            IsLow = _sum > Threshold && _n >= LeastSinceChange && !ZeroFitsBetter && Math.Max(RatioNow ?? 1, now) >= 1 + share;
            return;
        }

        if (load <= LeastLoad)
            return;
        var late = 1 + (_lateError / _lateLoad / _theta[0]);
        _clear = late < 1 + (share / 2) ? _clear + 1 : 0;
        if (_clear < ClearMinutes)
            return;
        IsLow = false;
        Forget();
    }

    private void Remember(double error, double load)
    {
        _n++;
        _l += load;
        _ll += load * load;
        _e += error;
        _le += load * error;
        _ee += error * error;
    }

    private void Forget() => (_sum, _n, _l, _ll, _e, _le, _ee) = (0, 0, 0, 0, 0, 0, 0);

    private void Learn(ReadOnlySpan<double> row, double error)
    {
        var noise = Noise;
        Span<double> projected = stackalloc double[Size];
        var total = noise;
        for (var j = 0; j < Size; j++)
        {
            projected[j] = 0;
            for (var i = 0; i < Size; i++)
                projected[j] += row[i] * _covariance[(i * Size) + j];
            total += projected[j] * row[j];
        }

        var bounded = Math.Clamp(error, -4 * Math.Sqrt(total), 4 * Math.Sqrt(total));
        for (var i = 0; i < Size; i++)
        {
            _theta[i] += projected[i] * bounded / total;
            for (var j = 0; j < Size; j++)
                _covariance[(i * Size) + j] -= projected[i] * projected[j] / total;
        }

        var standard = bounded * Math.Sqrt(noise / total);
        _noiseSum += standard * standard;
        _noiseCount++;
        _lagSum += standard * _lastError;
        _lagSquares += (standard * standard) + 1e-12;
        _lastError = standard;
        _learned++;
    }
}
