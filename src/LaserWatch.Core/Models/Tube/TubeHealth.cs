using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;
using LaserWatch.Trends;

namespace LaserWatch.Models;

/// <summary>The ratio of tube current to its baseline, block by block of steady beam.</summary>
/// <remarks>
/// A block is up to thirty steady currents at one power, or a minute of them; its estimate is a robust location. The ratio to the
/// baseline is comparable between powers, so blocks of all jobs form one series.
/// </remarks>
/// <param name="withCourses">False where nobody asks for <see cref="Top"/> and <see cref="Below"/>: comparing their models is most of the work of years.</param>
internal sealed class TubeHealth(TubeCurrentOptions options, RunOptions runs, JobBook jobs, bool withCourses = true)
{
    private const int MostInBlock = 30;
    private const int LeastInBlock = 8;
    private const double BlockSeconds = 60;
    private const double StaleSeconds = 600;
    private const int MostOpen = 16;
    private const double MostRagged = 0.08;
    private const double MeanBlocks = 64;
    private const double WanderBlocks = 256;
    private const double WanderAtFirst = 0.006;
    private const double RaggedLearn = 64;
    private const double RaggedMemory = 32;
    private const double CoolantFreshSeconds = 300;
    private const double NearTheTop = 0.85;
    private const double RaggedShareBlocks = 12;
    private const double MostRaggedShare = 0.2;
    private static readonly TimeSpan OneNight = TimeSpan.FromHours(30);
    private static readonly TimeSpan SomeDays = TimeSpan.FromDays(5);

    private readonly SteadyCurrent _steady = new(options, runs.BeamOnMilliamps, jobs);
    private readonly List<Open> _open = [];
    private readonly double[] _scratch = new double[MostInBlock];
    private readonly List<RatioWindow> _powers = [];
    private long _day = long.MinValue;
    private double _mean = 1;
    private double _wander = WanderAtFirst;
    private double _raggedAtFirst;
    private double _raggedBlocks;
    private double _raggedLately;
    private Instant _coolantAt;
    private double _coolantSum;
    private double _coolantCount;
    private double? _coolant;

    public TubeBaseline Baseline { get; } = new(options);

    /// <summary>The course at the highest powers in use, which a supply at its voltage limit loses first.</summary>
    public TubeCourse Top { get; } = new(options);

    /// <summary>The course at all other powers; empty where only powers near the highest are in use.</summary>
    public TubeCourse Below { get; } = new(options);

    /// <summary>The course that is worse now, or the only one there is.</summary>
    public TubeCourse Course => Top.Change.Kind == ChangeKind.Unknown ? (Below.Change.Kind == ChangeKind.Unknown ? Top : Below)
        : Below.Change.Kind != ChangeKind.Unknown && Below.Change.Now < Top.Change.Now ? Below : Top;

    /// <summary>What was seen longer ago says nothing of a fall at once: the tube may have aged meanwhile. Shorter while it is known to be falling.</summary>
    public TimeSpan LongestBreak => IsFallingSlowly ? OneNight : SomeDays;

    /// <summary>The course says that the current is on its way down.</summary>
    public bool IsFallingSlowly => Top.Change.Kind == ChangeKind.Ramp || Below.Change.Kind == ChangeKind.Ramp;

    /// <summary>What the coolant does to the current of this machine.</summary>
    public CoolantDependence CoolantDependence { get; } = new();

    /// <summary>The current sensor's zero.</summary>
    public RestCurrent Rest { get; } = new();

    /// <summary>The newest coolant temperature a block was cut at, °C; null where none is measured.</summary>
    public double? Coolant => _coolant;

    /// <summary>Scatter of the currents within a block, lately against at first; null before both are known.</summary>
    public double? Raggedness => _raggedBlocks < RaggedLearn || _raggedAtFirst <= 0 ? null : _raggedLately / _raggedAtFirst;

    /// <summary>The newest blocks, whatever their power.</summary>
    public RatioWindow All { get; private set; } = new();

    /// <summary>The newest blocks at the power of the newest; null before the first.</summary>
    public RatioWindow? AtLastPower { get; private set; }

    public IReadOnlyList<RatioWindow> Powers => _powers;

    /// <summary>Counts every block ever: a rule knows by it that there is something new.</summary>
    public long BlocksEver { get; private set; }

    /// <summary>The newest block's power, %; its baseline, mA, is beside it.</summary>
    public double LastPower { get; private set; }

    public double LastBaseline { get; private set; }

    /// <summary>The newest block's current as measured, mA. Not kept over a restart.</summary>
    public double LastMilliamps { get; private set; }

    /// <summary>How far the ratio of a good machine strays over hours and days (mains, room, warm tube), as a standard deviation.</summary>
    public double Wander => _wander;

    /// <summary>The fall that was seen to come at once, block by block, and has not gone again; null where none has.</summary>
    public ChangeFinding? StepSeen { get; set; }

    public double BeamSeconds => _steady.BeamSeconds;

    public bool IsLearning => Baseline.IsLearning(_steady.BeamSeconds);

    public void Begin(Run? run) => _steady.Begin(run);

    /// <summary>Takes the next sample in time order; true where a block was closed by it.</summary>
    /// <param name="channel">A canonical channel's index.</param>
    public bool Take(int channel, Instant at, double value)
    {
        PassTime(at);
        switch (channel)
        {
            case CanonicalIndex.Lasing:
                return TakeLasing(at, value);
            case CanonicalIndex.Power:
                TakePower(at, value);
                return false;
            case CanonicalIndex.TubeCurrent:
                return TakeCurrent(at, value);
            case CanonicalIndex.CoolantIn:
                TakeCoolant(at, value);
                return false;
            default:
                return false;
        }
    }

    /// <summary>Samples of this instant follow, or were of no channel that matters: in time order, before any of them, and as often as one likes.</summary>
    public void PassTime(Instant at) => _steady.PassTime(at);

    /// <summary>Takes whether the beam is on; of one instant the first. True where a block was closed by it.</summary>
    public bool TakeLasing(Instant at, double value)
    {
        Rest.FollowBeam(value >= 0.5, at);
        return _steady.TryTakeLasing(at, value, out var proved) && Add(proved);
    }

    /// <summary>Takes the power commanded; of one instant after the beam.</summary>
    public void TakePower(Instant at, double percent) => _steady.TakePower(at, percent);

    /// <summary>Takes a tube current; of one instant after beam and power. True where a block was closed by it.</summary>
    public bool TakeCurrent(Instant at, double milliamps)
    {
        Rest.Take(milliamps, at);
        return _steady.TryTakeCurrent(at, milliamps, out var proved) && Add(proved);
    }

    /// <summary>Takes the coolant that the block under way is cut at; of one instant the last.</summary>
    public void TakeCoolant(Instant at, double celsius)
    {
        if (at.SecondsSince(_coolantAt) > CoolantFreshSeconds)
            (_coolantSum, _coolantCount) = (0, 0);
        _coolantSum += celsius;
        _coolantCount++;
        _coolantAt = at;
    }

    /// <summary>The tube was replaced: what was learned and seen is another tube's.</summary>
    public void Restart(Instant installed)
    {
        Baseline.Restart(installed, _steady.BeamSeconds);
        _open.Clear();
        _powers.Clear();
        All = new RatioWindow();
        AtLastPower = null;
        Top.Clear();
        Below.Clear();
        StepSeen = null;
        CoolantDependence.Restart();
        (_mean, _raggedAtFirst, _raggedBlocks, _raggedLately) = (1, 0, 0, 0);
    }

    public void Visit(StateVisitor state)
    {
        _steady.Visit(state);
        Baseline.Visit(state);
        state.Walk(_open, () => new Open(), open => open.Visit(state));
        Top.Visit(state);
        Below.Visit(state);
        CoolantDependence.Visit(state);
        Rest.Visit(state);
        StepSeen = TubeCourse.VisitChange(state, StepSeen ?? default) is { Kind: not ChangeKind.Unknown } step ? step : null;
        state.Walk(ref _day);
        state.Walk(ref _raggedAtFirst);
        state.Walk(ref _raggedBlocks);
        state.Walk(ref _raggedLately);
        state.Walk(ref _coolantAt);
        state.Walk(ref _coolantSum);
        state.Walk(ref _coolantCount);
        state.Walk(ref _coolant);
        state.Walk(ref _mean);
        state.Walk(ref _wander);
        All.Visit(state);
        state.Walk(_powers, () => new RatioWindow(), window => window.Visit(state));
        var (blocks, power, baseline) = (BlocksEver, LastPower, LastBaseline);
        state.Walk(ref blocks);
        state.Walk(ref power);
        state.Walk(ref baseline);
        (BlocksEver, LastPower, LastBaseline) = (blocks, power, baseline);
        if (!state.IsLoading)
            return;
        AtLastPower = _powers.Find(window => window.Power == LastPower);
    }

    private bool Add(in SteadySample sample)
    {
        var block = Find(Math.Round(sample.PowerPercent), sample.At);
        block.Values[block.Count++] = sample.Milliamps;
        block.LastAt = sample.At;
        if (block.Count < MostInBlock && !(sample.At.SecondsSince(block.FirstAt) >= BlockSeconds && block.Count >= LeastInBlock))
            return false;
        Close(block, _steady.Run);
        return true;
    }

    private Open Find(double power, Instant at)
    {
        Open? oldest = null;
        foreach (var open in _open)
        {
            if (open.Power == power)
            {
                if (at.SecondsSince(open.LastAt) > StaleSeconds)
                    open.Restart(power, at);
                return open;
            }

            if (oldest is null || open.LastAt < oldest.LastAt)
                oldest = open;
        }

        if (_open.Count < MostOpen)
            _open.Add(oldest = new Open());
        oldest!.Restart(power, at);
        return oldest;
    }

    private void Close(Open block, Run? run)
    {
        block.Values.AsSpan(0, block.Count).CopyTo(_scratch);
        var (current, deviation) = RobustLocation.Of(_scratch.AsSpan(0, block.Count));
        var at = block.LastAt;
        block.Restart(block.Power, at);
        // So ragged a block is a picture being engraved, or corners without end: it says nothing of the tube.
        var ragged = deviation > MostRagged * current;
        block.RaggedShare += ((ragged ? 1 : 0) - block.RaggedShare) / RaggedShareBlocks;
        // And where nobody says which runs engrave, a smooth block between ragged ones is the smooth part of a picture.
        if (ragged || (run?.Record is null && block.RaggedShare > MostRaggedShare))
            return;

        var health = All.Recent(RatioWindow.Size, RatioWindow.Size / 2)?.Ratio ?? 1;
        var day = at.UnixNanoseconds / 86_400_000_000_000;
        Baseline.Learn(block.Power, current, day, _steady.BeamSeconds, health);
        if (run?.Record is null)
            Baseline.Watch(block.Power, current);
        if (Baseline.IsErratic(block.Power) || Baseline.Expected(block.Power, Recorded(run, block.Power)) is not { } expected)
            return;
        var seen = current / expected.Milliamps;
        FollowCoolant(seen, day);
        var ratio = seen / (1 + CoolantDependence.Effect(_coolant));
        FollowRaggedness(deviation / current);
        if (withCourses)
            (block.Power >= NearTheTop * Baseline.HighestPower ? Top : Below).Take(ratio, at, run?.Number ?? 0, block.Power);
        // Straying is measured about a mean that follows within an hour or so, so that ageing and steps soon leave it.
        _wander += ((1.2533 * Math.Min(Math.Abs(ratio - _mean), 5 * _wander)) - _wander) / WanderBlocks;
        _mean += (ratio - _mean) / MeanBlocks;
        All.Add(ratio, expected.RelativeError, at);
        AtLastPower = WindowOf(block.Power);
        AtLastPower.Add(ratio, expected.RelativeError, at);
        BlocksEver++;
        (LastPower, LastBaseline, LastMilliamps) = (block.Power, expected.Milliamps, current);
    }

    private void FollowCoolant(double ratio, long day)
    {
        if (day != _day)
            CoolantDependence.EndDay();
        _day = day;
        _coolant = _coolantCount == 0 ? null : _coolantSum / _coolantCount;
        (_coolantSum, _coolantCount) = (0, 0);
        if (_coolant is { } celsius)
            CoolantDependence.Take(celsius, ratio, IsLearning);
    }

    private void FollowRaggedness(double deviation)
    {
        _raggedBlocks++;
        if (_raggedBlocks <= RaggedLearn)
            _raggedAtFirst += (deviation - _raggedAtFirst) / _raggedBlocks;
        _raggedLately += (deviation - _raggedLately) / Math.Min(_raggedBlocks, RaggedMemory);
    }

    private RatioWindow WindowOf(double power)
    {
        foreach (var window in _powers)
        {
            if (window.Power == power)
                return window;
        }

        var made = new RatioWindow { Power = power };
        _powers.Add(made);
        return made;
    }

    // A record made with an earlier tube says nothing of this one.
    private double? Recorded(Run? run, double power) =>
        run?.Record is { TubeCurrent: { Value: > 0 } current, Power: { } recorded } record
        && Math.Abs(recorded.Value - power) <= 1
        && !(Baseline.Installed is { } installed && record.RecordedAt < installed)
            ? current.Value
            : null;

    private sealed class Open
    {
        public double Power;
        public Instant FirstAt;
        public Instant LastAt;
        public int Count;
        public double[] Values = new double[MostInBlock];
        public double RaggedShare;

        public void Restart(double power, Instant at)
        {
            if (power != Power)
                RaggedShare = 0;
            Power = power;
            FirstAt = at;
            LastAt = at;
            Count = 0;
        }

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Power);
            state.Walk(ref FirstAt);
            state.Walk(ref LastAt);
            state.Walk(ref Count);
            state.Walk(ref Values);
            state.Walk(ref RaggedShare);
            if (state.IsLoading && (Values.Length != MostInBlock || Count is < 0 or >= MostInBlock))
                StateVisitor.Refuse();
        }
    }
}
