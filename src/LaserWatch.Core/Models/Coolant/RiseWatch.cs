using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

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
    private const double Sure = 3;
    private const double BlockSeconds = 60;
    private const double LagSeconds = 40;
    private const double LongestStep = 120;
    private const double LeastLoad = 0.05;
    private const int MinutesThatTeach = 60;
    private const int MinutesThatAreEnough = 600;
    private const int LeastSinceChange = 3;
    private const int LeastToDecide = 8;
    private const int ClearMinutes = 10;
    private const double UseMinutesPerYear = 1500 * 60;

    private readonly RecursiveFit _fit = new([2, 0, 0], [1e4, 1e3, 100], 0.0025);
    private Fading _lag = new(LagSeconds);
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
    private double? _flowPercent;
    private bool _flowPercentIsOld = true;

    /// <summary>By the heat balance the flow is lower than tolerated.</summary>
    public bool IsLow { get; private set; }

    public bool IsTaught => _fit.Learned >= MinutesThatTeach;

    public double HoursLearned => _fit.Learned / 60.0;

    public static double HoursThatTeach => MinutesThatTeach / 60.0;

    /// <summary>Flow as a fraction of the usual one, since the change if one is told, else over the last minutes; null where not known.</summary>
    public double? FlowRatio => RatioNow is { } ratio ? HeatBalance.FlowRatio(1, ratio) : null;

    /// <summary><see cref="FlowRatio"/> in percent, to a tenth. It moves only when a minute is judged, and is asked for with every sample.</summary>
    public double? FlowPercent
    {
        get
        {
            if (_flowPercentIsOld)
                (_flowPercent, _flowPercentIsOld) = (FlowRatio is { } ratio ? Math.Round(100 * ratio, 1) : null, false);
            return _flowPercent;
        }
    }

    /// <summary>Rise per load against the learned one.</summary>
    public double? RatioNow
    {
        get
        {
            if (!IsTaught || _fit[0] <= 0)
                return null;
            if (_n >= LeastSinceChange && _ll > 0)
                return Math.Max(0.05, 1 + (_le / _ll / _fit[0]));
            return _lateLoad > 0 ? Math.Max(0.05, 1 + (_lateError / _lateLoad / _fit[0])) : null;
        }
    }

    /// <summary>Standard error of <see cref="RatioNow"/>.</summary>
    public double RatioError => _n >= LeastSinceChange && _ll > 0
        ? Math.Sqrt(_fit.LongRunVariance / _ll) / _fit[0]
        : _lateLoad > 0 ? Math.Sqrt(_fit.LongRunVariance / (_lateLoad * 10)) / _fit[0] : 0;

    /// <summary>How far outlet less inlet has moved at any load alike, in kelvins, where that fits better than a change in proportion to load; else 0; null where not known.</summary>
    public double? ZeroMoved => !IsTaught ? null : _n >= LeastSinceChange && ZeroFitsBetter ? _e / _n : 0;

    /// <summary>Kelvins the coolant warms in the tube at full load, as learned.</summary>
    public double KelvinsAtFullLoad => _fit[0];

    /// <summary>The tube's current stands in an alarm of its own: a load taken from it may be wrong, and nothing is concluded from it.</summary>
    public bool CurrentIsDoubted { get; set; }

    /// <summary>Heat in the newest minute, watts; null where flow is not measured.</summary>
    public double? Watts { get; private set; }

    // A sensor's own error is the same with and without the beam.
    private bool ZeroFitsBetter => _ll > 0 && (_e * _e / _n) - (_le * _le / _ll) > 9 * _fit.Noise;

    /// <summary>True where a minute was closed and judged.</summary>
    public bool Follow(Reading reading, HeatLoad heat)
    {
        if (!reading.Has(CanonicalIndex.CoolantIn, TimeSpan.FromMinutes(2)) || !reading.Has(CanonicalIndex.CoolantOut, TimeSpan.FromMinutes(2))
            || !reading.IsFresh(CanonicalIndex.CoolantOut))
            return false;
        var at = reading.TimeOf(CanonicalIndex.CoolantOut);
        var (load, kind) = heat;
        var step = _start is null ? 0 : at.SecondsSince(_last);
        if (_start is null || step is > LongestStep or < 0)
        {
            (_inBefore, _lagged) = (null, load);
            Begin(at, kind);
            step = 0;
        }

        _last = at;
        _lagged += (load - _lagged) * _lag.Weight(step);
        var weight = Math.Max(step, 1e-3);
        var rise = reading[CanonicalIndex.CoolantOut] - reading[CanonicalIndex.CoolantIn];
        _seconds += weight;
        _rise += weight * rise;
        _in += weight * reading[CanonicalIndex.CoolantIn];
        // Samples far apart have settled between them: the load of the time in between is then the better guess.
        _load += weight * (step > LagSeconds ? load : _lagged);
        if (reading.Has(CanonicalIndex.CoolantFlow, TimeSpan.FromMinutes(2)))
        {
            _watts += weight * Water.HeatFlowWatts(reading[CanonicalIndex.CoolantFlow], reading[CanonicalIndex.CoolantIn], reading[CanonicalIndex.CoolantOut]);
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
        _flowPercentIsOld = true;
        _inBefore = inlet;
        Begin(at, kind);
        return true;
    }

    /// <summary>Tube, pump or coolant were worked on.</summary>
    public void Restart()
    {
        _fit.Loosen([1, 0.5, 0.1]);
        _flowPercentIsOld = true;
        IsLow = false;
        Forget();
        (_lateLoad, _lateError) = (0, 0);
    }

    public void Visit(StateVisitor state)
    {
        _flowPercentIsOld = true;
        _fit.Visit(state);
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
        var (low, watts, doubted) = (IsLow, Watts, CurrentIsDoubted);
        state.Walk(ref low);
        state.Walk(ref watts);
        state.Walk(ref doubted);
        (IsLow, Watts, CurrentIsDoubted) = (low, watts, doubted);
    }

    private void Begin(Instant at, HeatLoadKind kind)
    {
        _start = at;
        (_seconds, _rise, _load, _in, _watts, _wattSeconds) = (0, 0, 0, 0, 0, 0);
        _kind = kind;
    }

    private void Take(double rise, double load, double change)
    {
        if (_fit.Learned == 0)
            _learnedKind = _kind;
        if (_kind != _learnedKind || (CurrentIsDoubted && _kind == HeatLoadKind.Current))
            return;
        Span<double> row = [load, 1, -change];
        var error = rise - _fit.Predict(row);
        var known = IsTaught;
        if (known)
            Test(error, load, Sure * Math.Sqrt(_fit.Spread(row)));
        if (!known)
            _fit.Learn(row, error);
        else if (IsLow || _sum > Threshold / 2 || error * error > 9 * (_fit.Noise + _fit.Spread(row)))
            return;
        else if (_fit.Learned < MinutesThatAreEnough || _fit.Leverage(row) > 0.05)
            _fit.Learn(row, error);
        else
            _fit.Listen(error);
    }

    private double Threshold => Math.Log(options.DriftFalseAlarmYears * UseMinutesPerYear);

    /// <param name="unsure">What the learned law itself leaves open, kelvins.</param>
    private void Test(double error, double load, double unsure)
    {
        // The smallest fall of flow worth telling raises the rise by this share.
        var share = (1 / (1 - options.FlowTolerance)) - 1;
        var expected = share * _fit[0] * load;
        var beyond = Math.Sign(error) * Math.Max(0, Math.Abs(error) - unsure);
        var increment = ((expected * beyond) - (expected * expected / 2)) / _fit.LongRunVariance;
        // Where samples come seldom, a minute's load can be far off: no few minutes may decide alone.
        _sum = Math.Max(0, _sum + Math.Clamp(increment, -Threshold / LeastToDecide, Threshold / LeastToDecide));
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
            var now = _lateLoad > 0 ? 1 + (_lateError / _lateLoad / _fit[0]) : 1;
            IsLow = _sum > Threshold && _n >= LeastSinceChange && !ZeroFitsBetter && Math.Max(RatioNow ?? 1, now) >= 1 + share;
            return;
        }

        if (load <= LeastLoad)
            return;
        var late = 1 + (_lateError / _lateLoad / _fit[0]);
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
}
