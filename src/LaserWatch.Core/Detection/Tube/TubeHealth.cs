using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Tube;

/// <summary>The ratio of tube current to its baseline, block by block of steady beam.</summary>
/// <remarks>
/// A block is up to thirty steady currents at one power, or a minute of them; its estimate is a robust location. The ratio to the
/// baseline is comparable between powers, so blocks of all jobs form one series.
/// </remarks>
internal sealed class TubeHealth(TubeCurrentOptions options, RunOptions runs, JobBook jobs)
{
    private const int MostInBlock = 30;
    private const int LeastInBlock = 8;
    private const double BlockSeconds = 60;
    private const double StaleSeconds = 600;
    private const int MostOpen = 16;
    private const double MostRagged = 0.08;
    private const int LeastInDay = 8;
    private const int MostInDay = 128;
    private const int DaysKept = 3;
    private const double MeanBlocks = 64;
    private const double WanderBlocks = 256;
    private const double WanderAtFirst = 0.006;

    private readonly SteadyCurrent _steady = new(options, runs.BeamOnMilliamps, jobs);
    private readonly List<Open> _open = [];
    private readonly double[] _scratch = new double[MostInBlock];
    private readonly List<RatioWindow> _powers = [];
    private double[] _today = new double[MostInDay];
    private int _todayCount;
    private long _day = long.MinValue;
    private double[] _days = new double[DaysKept];
    private int _daysCount;
    private double _mean = 1;
    private double _wander = WanderAtFirst;

    public TubeBaseline Baseline { get; } = new(options);

    /// <summary>The newest blocks, whatever their power.</summary>
    public RatioWindow All { get; private set; } = new();

    /// <summary>The newest blocks at the power of the newest; null before the first.</summary>
    public RatioWindow? AtLastPower { get; private set; }

    public IReadOnlyList<RatioWindow> Powers => _powers;

    /// <summary>Counts every block ever: a detector knows by it that there is something new.</summary>
    public long BlocksEver { get; private set; }

    /// <summary>The newest block's power, %; its baseline, mA, is beside it.</summary>
    public double LastPower { get; private set; }

    public double LastBaseline { get; private set; }

    /// <summary>How far the ratio of a good machine strays over hours and days (mains, room, warm tube), as a standard deviation.</summary>
    public double Wander => _wander;

    /// <summary>The median of the last three days' medians; null before there are three.</summary>
    public double? Days => _daysCount < DaysKept ? null : Math.Max(Math.Min(_days[0], _days[1]), Math.Min(Math.Max(_days[0], _days[1]), _days[2]));

    public double BeamSeconds => _steady.BeamSeconds;

    public bool IsLearning => Baseline.IsLearning(_steady.BeamSeconds);

    public void Begin(Run? run) => _steady.Begin(run);

    /// <summary>Takes the next sample in time order; true where a block was closed by it.</summary>
    public bool Take(in Sample sample)
    {
        if (!_steady.TryTake(sample, out var at, out var power, out var current))
            return false;
        var run = _steady.Run;
        var rounded = Math.Round(power);
        var block = Find(rounded, at);
        block.Values[block.Count++] = current;
        block.LastAt = at;
        if (block.Count < MostInBlock && !(at.SecondsSince(block.FirstAt) >= BlockSeconds && block.Count >= LeastInBlock))
            return false;
        Close(block, run);
        return true;
    }

    /// <summary>The tube was replaced: what was learned and seen is another tube's.</summary>
    public void Restart(Instant installed)
    {
        Baseline.Restart(installed, _steady.BeamSeconds);
        _open.Clear();
        _powers.Clear();
        All = new RatioWindow();
        AtLastPower = null;
        (_todayCount, _daysCount, _mean) = (0, 0, 1);
    }

    public void Visit(StateVisitor state)
    {
        _steady.Visit(state);
        Baseline.Visit(state);
        state.Walk(_open, () => new Open(), open => open.Visit(state));
        state.Walk(ref _today);
        state.Walk(ref _todayCount);
        state.Walk(ref _day);
        state.Walk(ref _days);
        state.Walk(ref _daysCount);
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
        if (_today.Length != MostInDay || _days.Length != DaysKept || _todayCount is < 0 or > MostInDay)
            StateVisitor.Refuse();
        AtLastPower = _powers.Find(window => window.Power == LastPower);
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
        if (deviation > MostRagged * current)
            return;

        var health = All.Recent(RatioWindow.Size, RatioWindow.Size / 2)?.Ratio ?? 1;
        var day = at.UnixNanoseconds / 86_400_000_000_000;
        Baseline.Learn(block.Power, current, day, _steady.BeamSeconds, health);
        if (Baseline.Expected(block.Power, Recorded(run, block.Power)) is not { } expected)
            return;
        var ratio = current / expected.Milliamps;
        FollowDays(ratio, day);
        // Straying is measured about a mean that follows within an hour or so, so that ageing and steps soon leave it.
        _wander += ((1.2533 * Math.Min(Math.Abs(ratio - _mean), 5 * _wander)) - _wander) / WanderBlocks;
        _mean += (ratio - _mean) / MeanBlocks;
        All.Add(ratio, expected.RelativeError, at);
        AtLastPower = WindowOf(block.Power);
        AtLastPower.Add(ratio, expected.RelativeError, at);
        BlocksEver++;
        (LastPower, LastBaseline) = (block.Power, expected.Milliamps);
    }

    private void FollowDays(double ratio, long day)
    {
        if (day != _day)
        {
            if (_todayCount >= LeastInDay)
            {
                Array.Copy(_days, 1, _days, 0, DaysKept - 1);
                _days[DaysKept - 1] = RobustLocation.Median(_today.AsSpan(0, _todayCount));
                _daysCount = Math.Min(_daysCount + 1, DaysKept);
            }

            _day = day;
            _todayCount = 0;
        }

        if (_todayCount < MostInDay)
            _today[_todayCount++] = ratio;
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

        public void Restart(double power, Instant at)
        {
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
            if (state.IsLoading && (Values.Length != MostInBlock || Count is < 0 or >= MostInBlock))
                StateVisitor.Refuse();
        }
    }
}
