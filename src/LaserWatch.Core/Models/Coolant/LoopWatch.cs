using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Follows a machine's coolant loop: learns what it does in good health, and has it tested whether it still does.</summary>
/// <remarks>
/// Learned over the first hours in use and then held. Not judged are the first blocks after a pause, loads not known the way they were learned, and fast
/// loops still far from where they should rest and moving there: a chiller pulls a warm tank down at its own pace, and leaves a
/// cold one to the tube.
/// </remarks>
internal sealed class LoopWatch
{
    public const int BlocksThatTeach = 48;
    public const int BlocksThatAreEnough = 240;

    private const int WarmUpBlocks = 3;
    private const int IdleBlocksThatCool = 6;
    private const int OtherLoadBlocks = 144;
    private const int OtherLoadBlocksToTell = 6;
    private const double UseShare = 0.02;
    private const double NewGround = 0.05;
    private const double Outlier = 3;
    private const double NightSeconds = 4 * 3600;
    private const double FastLoop = 0.9;
    private const double WarmWithinKelvins = 0.7;
    private const int BlocksOfWarming = 36;
    private static readonly TimeSpan OldestRoom = TimeSpan.FromMinutes(15);

    private readonly CoolantBlocks _blocks = new();
    private CoolantBlock? _before;
    private double[] _levels = new double[3];
    private int _levelCount;
    private int _sinceGap, _idle, _otherLoad;
    private Instant? _lastUse;
    private double? _sound;
    private bool _hasBeenWarm;

    public LoopWatch(CoolantOptions options) => Test = new DriftTest(options, Model);

    public LoopModel Model { get; } = new();

    public DriftTest Test { get; }

    public DriftHistory History { get; } = new();

    public MorningRest Morning { get; } = new();

    public bool IsTaught => Model.Learned >= BlocksThatTeach;

    /// <summary>The newest block's coolant, °C.</summary>
    public double Measured { get; private set; }

    /// <summary>The newest block's room (°C) and load (share of full load).</summary>
    public (double Room, double Load) Work { get; private set; }

    /// <summary>The load is not known the way it was when the loop was learned.</summary>
    public bool LoadIsKnownOtherwise => _otherLoad > OtherLoadBlocksToTell;

    /// <summary>Entering the tube where that was ever heard, else leaving it.</summary>
    /// <returns>The channel's index.</returns>
    public static int ChannelOf(Reading reading) =>
        reading.Knows(CanonicalIndex.CoolantIn) || !reading.Knows(CanonicalIndex.CoolantOut) ? CanonicalIndex.CoolantIn : CanonicalIndex.CoolantOut;

    /// <summary>Coolant and room are measured, as far as the loop needs them.</summary>
    public static bool Knows(Reading reading) => reading.Has(ChannelOf(reading)) && reading.Has(CanonicalIndex.AmbientTemperature, OldestRoom);

    public void Follow(Reading reading, HeatLoad load)
    {
        var channel = ChannelOf(reading);
        if (!reading.IsFresh(channel) || !Knows(reading))
            return;
        var closed = _blocks.Take(reading, channel, load, out var block, out var gap);
        if (gap)
            (_before, _sinceGap, _levelCount, _idle, _sound, _hasBeenWarm) = (null, 0, 0, 0, null, false);
        if (closed)
            Close(block);
    }

    /// <summary>Somebody worked on the loop: what is normal must be learned anew.</summary>
    public void Restart()
    {
        Model.Loosen();
        Test.Restart();
        History.Clear();
        Morning.Clear();
    }

    public void Visit(StateVisitor state)
    {
        _blocks.Visit(state);
        Model.Visit(state);
        Test.Visit(state);
        History.Visit(state);
        Morning.Visit(state);
        CoolantBlock.Visit(state, ref _before);
        state.Walk(ref _levels);
        state.Walk(ref _levelCount);
        state.Walk(ref _sinceGap);
        state.Walk(ref _idle);
        state.Walk(ref _otherLoad);
        state.Walk(ref _lastUse);
        state.Walk(ref _sound);
        state.Walk(ref _hasBeenWarm);
        var (measured, (room, load)) = (Measured, Work);
        state.Walk(ref measured);
        state.Walk(ref room);
        state.Walk(ref load);
        (Measured, Work) = (measured, (room, load));
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
                (_sinceGap, _hasBeenWarm) = (0, false);
            _levelCount = 0;
            _before = block;
            _sound = null;
            return;
        }

        if (_lastUse is { } last && block.From.SecondsSince(last) > NightSeconds)
            Morning.Take((_before ?? block).Coolant - (_before ?? block).Room, Test.IsDrifting);
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
        if (_otherLoad >= OtherLoadBlocks && !Test.IsSuspect)
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

        FollowSound(before, now);
        var load = (before.Load + now.Load) / 2;
        var toGo = Model.Resting(now.Room, load).Celsius - before.Coolant;
        if (IsStillCold(toGo) || IsOnItsWay(toGo, now.Coolant))
            return;
        Test.Take(row, error, _sound!.Value - now.Room, Model.Outside(now.Room, load), now.From);
        History.Add(new DriftPoint(now.To, 1, error / Model.Gain, before.Coolant - now.Room, load, now.Swing));

        if (Test.IsSuspect || error * error > Outlier * Outlier * (Model.Noise + Model.Spread(row)))
            return;
        if (Model.Learned < BlocksThatAreEnough || Model.Leverage(row) > NewGround)
            Model.Learn(row, now, error);
        else
            Model.Listen(error);
    }

    /// <summary>What the coolant would do if the loop were sound, from the last pause on: the model alone, without looking at the coolant.</summary>
    private void FollowSound(in CoolantBlock before, in CoolantBlock now)
    {
        Span<double> row = stackalloc double[LoopModel.Size];
        LoopModel.Row(row, before with { Coolant = _sound ?? Math.Min(before.Coolant, Model.Resting(now.Room, before.Load).Celsius) }, now);
        _sound = Model.Predict(row);
    }

    /// <summary>A chiller has no heater: after a cold night the tube alone warms the coolant, however long that takes.</summary>
    private bool IsStillCold(double toGo)
    {
        _hasBeenWarm |= Model.IsRadiator || toGo < WarmWithinKelvins || _sinceGap > BlocksOfWarming;
        return !_hasBeenWarm;
    }

    /// <summary>Far from where it should rest, and moving there.</summary>
    private bool IsOnItsWay(double toGo, double coolant)
    {
        if (_levelCount < _levels.Length || Math.Abs(toGo) < 1 || Model.Decay > FastLoop)
            return false;
        var moved = coolant - _levels[0];
        return Math.Sign(moved) == Math.Sign(toGo) && Math.Abs(moved) > Math.Max(0.1 * Math.Abs(toGo), 2 * Math.Sqrt(Model.LongRunVariance));
    }
}
