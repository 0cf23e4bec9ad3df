using LaserWatch.Detection.Sequential;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>Follows a machine's coolant loop: learns what it does in good health, and tests by CUSUM whether it still does.</summary>
/// <remarks>
/// The test is of the model's own prediction errors, standardised by their long-run deviation, so that neither the loop's inertia nor
/// coloured noise counts as news. What the model cannot know (its parameters' uncertainty, a room hotter than any before) and shifts
/// of less than half of what is worth telling are taken off each error before it counts. While the loop is still on its way to where it
/// should rest, fast loops are not judged: a chiller pulls a warm tank down at its own pace.
/// </remarks>
internal sealed class LoopWatch(CoolantOptions options)
{
    public const int BlocksThatTeach = 48;

    private const int BlocksThatAreEnough = 240;
    private const int WarmUpBlocks = 3;
    private const int IdleBlocksThatCool = 6;
    private const int Recent = 6;
    private const int LeastBlocksSinceChange = 2;
    private const int OtherLoadBlocks = 144;
    private const double UseShare = 0.02;
    private const double Sure = 3;
    private const double Outlier = 3.5;
    private const double NightSeconds = 4 * 3600;

    // Working hours of a small shop's loop in a year, to turn years into blocks; common practice, no source.
    private const double UseHoursPerYear = 1500;

    private readonly CoolantBlocks _blocks = new();
    private readonly ErrorStretch _recent = new();
    private readonly ErrorStretch _up = new();
    private readonly ErrorStretch _down = new();
    private CoolantBlock? _before;
    private Cusum? _cusum;
    private int _designedAt;
    private double _designedDeviation;
    private double[] _levels = new double[3];
    private int _levelCount;
    private int _sinceGap, _idle, _otherLoad;
    private Instant? _lastUse;
    private int _clear;
    private int _judged;

    public LoopModel Model { get; } = new();

    public DriftHistory History { get; } = new();

    public MorningRest Morning { get; } = new();

    public bool IsDrifting { get; private set; }

    /// <summary>The errors point away from health, though not yet surely.</summary>
    public bool IsSuspect => IsDrifting || (_cusum is { } c && Math.Max(c.Upper, c.Lower) > c.Design.DecisionInterval / 2);

    public bool IsTaught => Model.Learned >= BlocksThatTeach;

    public bool HasJudged => _judged >= Recent;

    /// <summary>How far the resting point has moved, kelvins; above 0 is warmer.</summary>
    public double Shift { get; private set; }

    public double ShiftError { get; private set; }

    /// <summary>Where the test's own sum for the present side began.</summary>
    public Instant ChangedAt => (Shift >= 0 ? _up : _down).From;

    /// <summary>The newest block's coolant, °C.</summary>
    public double Measured { get; private set; }

    /// <summary>The newest block's room (°C) and load (share of full load).</summary>
    public (double Room, double Load) Work { get; private set; }

    /// <summary>The load is not known the way it was when the loop was learned.</summary>
    public bool LoadIsKnownOtherwise => _otherLoad > Recent;

    /// <summary>Entering the tube where that was ever heard, else leaving it.</summary>
    public static Channel ChannelOf(Reading reading) =>
        reading.Knows(Channel.CoolantIn) || !reading.Knows(Channel.CoolantOut) ? Channel.CoolantIn : Channel.CoolantOut;

    public void Follow(Reading reading)
    {
        var channel = ChannelOf(reading);
        if (!reading.Has(channel) || !reading.Fresh.Has(channel) || !reading.Has(Channel.AmbientTemperature, TimeSpan.FromMinutes(15)))
            return;
        var closed = _blocks.Take(reading, channel, out var block, out var gap);
        if (gap)
            (_before, _sinceGap, _levelCount, _idle) = (null, 0, 0, 0);
        if (closed)
            Close(block);
    }

    /// <summary>Somebody worked on the loop: what is normal must be learned anew.</summary>
    public void Restart()
    {
        Model.Loosen();
        Settle();
        _cusum = null;
        _judged = 0;
        History.Clear();
        Morning.Clear();
    }

    public void Visit(StateVisitor state)
    {
        _blocks.Visit(state);
        _recent.Visit(state);
        _up.Visit(state);
        _down.Visit(state);
        Model.Visit(state);
        History.Visit(state);
        Morning.Visit(state);
        VisitBefore(state);
        VisitCusum(state);
        state.Walk(ref _designedAt);
        state.Walk(ref _designedDeviation);
        state.Walk(ref _levels);
        state.Walk(ref _levelCount);
        state.Walk(ref _sinceGap);
        state.Walk(ref _idle);
        state.Walk(ref _otherLoad);
        state.Walk(ref _lastUse);
        state.Walk(ref _clear);
        state.Walk(ref _judged);
        var (drifting, shift, error, measured, (room, load)) = (IsDrifting, Shift, ShiftError, Measured, Work);
        state.Walk(ref drifting);
        state.Walk(ref shift);
        state.Walk(ref error);
        state.Walk(ref measured);
        state.Walk(ref room);
        state.Walk(ref load);
        (IsDrifting, Shift, ShiftError, Measured, Work) = (drifting, shift, error, measured, (room, load));
        if (state.IsLoading && _levels.Length != 3)
            StateVisitor.Refuse();
    }

    private void Close(in CoolantBlock block)
    {
        Measured = block.Coolant;
        Work = (block.Room, block.Load);
        if (block.BeamShare <= UseShare)
        {
            // Without the beam the pump or the chiller may be off, and the loop another one.
            _idle++;
            if (_idle > IdleBlocksThatCool)
                _sinceGap = 0;
            _levelCount = 0;
            _before = block;
            return;
        }

        if (_lastUse is { } last && block.From.SecondsSince(last) > NightSeconds)
            Morning.Take((_before ?? block).Coolant - (_before ?? block).Room, IsDrifting);
        _lastUse = block.To;
        _idle = 0;
        _sinceGap++;
        if (_before is { } before && _sinceGap > WarmUpBlocks && LoadIsLike(block) && !block.Picture && !before.Picture)
            Judge(before, block);
        (_levels[0], _levels[1], _levels[2]) = (_levels[1], _levels[2], block.Coolant);
        _levelCount++;
        _before = block;
    }

    private bool LoadIsLike(in CoolantBlock block)
    {
        if (Model.Learned == 0)
            return block.Kind != HeatLoadKind.None;
        if (block.Kind == Model.Kind)
        {
            _otherLoad = 0;
            return true;
        }

        // A sensor fitted or lost for good makes another scale of the load.
        _otherLoad++;
        if (_otherLoad >= OtherLoadBlocks && !IsSuspect)
        {
            _otherLoad = 0;
            Restart();
        }

        return false;
    }

    private void Judge(in CoolantBlock before, in CoolantBlock now)
    {
        Span<double> row = stackalloc double[LoopModel.Size];
        LoopModel.Row(row, before, now);
        var error = now.Coolant - Model.Predict(row);
        if (!IsTaught)
        {
            Model.Learn(row, now, error);
            return;
        }

        var deviation = Math.Sqrt(Model.LongRunVariance);
        var load = (before.Load + now.Load) / 2;
        var toGo = Model.Resting(now.Room, load).Celsius - before.Coolant;
        if (IsOnItsWay(toGo, now.Coolant, deviation))
            return;

        Design(deviation);
        var spread = Model.Spread(row);
        var outside = Model.Outside(now.Room, load);
        var reference = _cusum!.Design.ReferenceValue * deviation;
        var allowed = (Sure * Math.Sqrt(spread)) + (Model.Gain * outside)
            + Math.Max(0, (Model.Gain * options.LeastDriftKelvins / 2) - reference);
        var beyond = Math.Sign(error) * Math.Max(0, Math.Abs(error) - allowed) / deviation;
        var side = _cusum.Update(Math.Clamp(beyond, -Outlier, Outlier));

        _judged++;
        _recent.Fade(Recent);
        _recent.Add(row, error, outside);
        Follow(_up, _cusum.UpperRun, row, error, outside, now.From);
        Follow(_down, _cusum.LowerRun, row, error, outside, now.From);
        History.Add(new DriftPoint(now.To, 1, error / Model.Gain, before.Coolant - now.Room, load, toGo, now.Swing));
        Decide(side);

        var fits = error * error < 9 * (Model.Noise + spread);
        if (IsSuspect || !fits)
            return;
        if (Model.Learned < BlocksThatAreEnough || Model.Leverage(row) > 0.05)
            Model.Learn(row, now, error);
        else
            Model.Listen(error);
    }

    private static void Follow(ErrorStretch stretch, long run, ReadOnlySpan<double> row, double error, double outside, Instant at)
    {
        if (run <= 1)
            stretch.Begin(at);
        else
            stretch.Add(row, error, outside);
    }

    private void Decide(CusumSide side)
    {
        var since = side == CusumSide.Upper || (side == CusumSide.None && Shift >= 0) ? _up : _down;
        var (lately, latelyFar) = Weigh(_recent, Recent - 1);
        var (whole, wholeFar) = Weigh(since, LeastBlocksSinceChange);
        var chosen = Math.Abs(whole) > Math.Abs(lately) ? since : _recent;
        Shift = chosen.Shift(Model);
        ShiftError = chosen.Error(Model);

        if (!IsDrifting)
        {
            var sign = side switch { CusumSide.Upper => 1, CusumSide.Lower => -1, _ => 0 };
            IsDrifting = sign != 0 && ((latelyFar && Math.Sign(lately) == sign) || (wholeFar && Math.Sign(whole) == sign));
            _clear = 0;
            return;
        }

        _clear = Math.Abs(lately) < options.LeastDriftKelvins / 2 ? _clear + 1 : 0;
        if (_clear >= Recent)
            Settle();
    }

    private (double Shift, bool Far) Weigh(ErrorStretch stretch, int least)
    {
        if (stretch.Count < least)
            return (0, false);
        var shift = stretch.Shift(Model);
        return (shift, Math.Abs(shift) >= Math.Max(options.LeastDriftKelvins, (Sure * stretch.Error(Model)) + stretch.Outside));
    }

    private void Settle()
    {
        IsDrifting = false;
        _clear = 0;
        _cusum?.Reset();
        _up.Clear();
        _down.Clear();
        _recent.Clear();
    }

    /// <summary>Far from where it should rest, and moving there.</summary>
    private bool IsOnItsWay(double toGo, double coolant, double deviation)
    {
        if (_levelCount < _levels.Length || Math.Abs(toGo) < 1 || Model.Decay > 0.9)
            return false;
        var moved = coolant - _levels[0];
        return Math.Sign(moved) == Math.Sign(toGo) && Math.Abs(moved) > Math.Max(0.1 * Math.Abs(toGo), 2 * deviation);
    }

    /// <summary>Designs the test once it can, and again when what it stands on is much better known.</summary>
    private void Design(double deviation)
    {
        var stale = _cusum is null
            || (!IsSuspect && Model.Learned >= 2.2 * _designedAt && _designedAt < BlocksThatAreEnough)
            || (!IsSuspect && Math.Abs(Math.Log(deviation / _designedDeviation)) > 0.3);
        if (!stale)
            return;
        var shift = Math.Clamp(Model.Gain * options.LeastDriftKelvins / deviation, 0.2, 3);
        var blocks = options.DriftFalseAlarmYears * UseHoursPerYear * 3600 / CoolantBlocks.Seconds;
        _cusum = new Cusum(CusumDesign.For(shift, blocks));
        (_designedAt, _designedDeviation) = (Model.Learned, deviation);
        _up.Clear();
        _down.Clear();
    }

    private void VisitBefore(StateVisitor state)
    {
        var known = _before.HasValue;
        state.Walk(ref known);
        if (!known)
        {
            _before = null;
            return;
        }

        var (from, to, coolant, room, load, beam, swing, kind, picture) = _before ?? default;
        state.Walk(ref from);
        state.Walk(ref to);
        state.Walk(ref coolant);
        state.Walk(ref room);
        state.Walk(ref load);
        state.Walk(ref beam);
        state.Walk(ref swing);
        state.Walk(ref kind);
        state.Walk(ref picture);
        _before = new CoolantBlock(from, to, coolant, room, load, beam, swing, kind, picture);
    }

    private void VisitCusum(StateVisitor state)
    {
        var known = _cusum is not null;
        state.Walk(ref known);
        if (!known)
        {
            _cusum = null;
            return;
        }

        var (reference, interval) = (_cusum?.Design.ReferenceValue ?? 0, _cusum?.Design.DecisionInterval ?? 0);
        state.Walk(ref reference);
        state.Walk(ref interval);
        if (state.IsLoading)
        {
            if (!(reference >= 0) || !(interval > 0))
                StateVisitor.Refuse();
            _cusum = new Cusum(new CusumDesign(reference, interval, 0, TwoSided: true));
        }

        _cusum!.Visit(state);
    }
}
