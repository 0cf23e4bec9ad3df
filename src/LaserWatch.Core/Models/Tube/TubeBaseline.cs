using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>What a tube's current was, at each power, when it was new or when the watch began.</summary>
/// <remarks>
/// One node per whole percent of power in use. A node's baseline is the median of its first block estimates within the tube's
/// learning hours; it can be used, with a wider margin, as soon as it has a few. A job's recorded current stands in until then,
/// and stays in force where the learned one is already far below it: the tube had sagged before the watch began. A power first
/// used when the tube was older is learned then, and corrected by what the tube had lost by then.
/// </remarks>
internal sealed class TubeBaseline(TubeCurrentOptions options)
{
    private const int LeastBlocks = 4;
    private const int MostBlocks = 200;
    private const double RecordError = 0.007;
    private const double WanderOfOneDay = 0.007;
    private const double ErraticFrom = 0.06;
    private const double ErraticSpread = 0.15;
    private const int LeastErratic = 3;

    private readonly List<Node> _nodes = [];
    private readonly CurrentPowerCurve _curve = new();
    private readonly List<(double Power, double Milliamps, double Error)> _learned = [];
    private Instant? _installed;
    private double _beamSecondsAtStart;

    /// <summary>When the tube was last replaced, as the service log says; null where it does not.</summary>
    public Instant? Installed => _installed;

    public int Nodes => _nodes.Count(n => n.Blocks.Length >= LeastBlocks);

    /// <summary>The highest power learned, %; 0 before any.</summary>
    public double HighestPower => _learned.Count == 0 ? 0 : _learned[^1].Power;

    public bool IsLearning(double beamSeconds) => beamSeconds - _beamSecondsAtStart < options.LearnBeamHours * 3600;

    public double LearnedHours(double beamSeconds) => Math.Min((beamSeconds - _beamSecondsAtStart) / 3600, options.LearnBeamHours);

    /// <summary>A new tube: everything is learned anew.</summary>
    public void Restart(Instant installed, double beamSeconds)
    {
        _nodes.Clear();
        _learned.Clear();
        _curve.Clear();
        _installed = installed;
        _beamSecondsAtStart = beamSeconds;
    }

    /// <summary>The expected current at a power.</summary>
    /// <param name="powerPercent">Commanded power.</param>
    /// <param name="recordedMilliamps">The job's recorded current, of this tube; null where there is none.</param>
    /// <returns>mA and its relative standard error; null where nothing is known yet.</returns>
    public (double Milliamps, double RelativeError)? Expected(double powerPercent, double? recordedMilliamps)
    {
        var learned = _curve.At(powerPercent);
        if (recordedMilliamps is not { } proven)
            return learned;
        // The record of a proven cut is better than a guess between two powers, and stays in force against what was learned too late.
        var own = Find(powerPercent) is { } node && node.Blocks.Length >= LeastBlocks;
        return own && learned is { } curve && curve.Milliamps >= proven * (1 - options.Sag - (2 * RecordError)) ? curve : (proven, RecordError);
    }

    /// <summary>
    /// Where nobody says which runs engrave: currents at this power differ from run to run as pictures do, above the learned one too. A tube and its
    /// supply do not do that, so nothing can be told at this power.
    /// </summary>
    public bool IsErratic(double powerPercent) => Find(powerPercent) is { } node
        && (node.Above >= LeastErratic || (node.Below >= LeastErratic && node.LowestBelow < node.HighestBelow - ErraticSpread));

    /// <summary>Takes a block of a run whose mode nobody recorded, to tell engraving from cutting.</summary>
    public void Watch(double powerPercent, double milliamps)
    {
        if (Find(powerPercent) is not { } node || node.Blocks.Length < LeastBlocks)
            return;
        var ratio = milliamps / (node.Value * node.HealthAtStart);
        if (ratio > 1 + ErraticFrom)
        {
            node.Above++;
        }
        else if (ratio < 1 - ErraticFrom)
        {
            node.Below++;
            (node.LowestBelow, node.HighestBelow) = (Math.Min(node.LowestBelow, ratio), Math.Max(node.HighestBelow, ratio));
        }
    }

    /// <summary>Takes a block estimate; used only while the tube, or this power, is being learned.</summary>
    /// <param name="powerPercent">Commanded power.</param>
    /// <param name="milliamps">The block's current.</param>
    /// <param name="day">A number that differs from day to day.</param>
    /// <param name="beamSeconds">Beam-on time so far.</param>
    /// <param name="health">The tube's present ratio to its baseline at other powers; 1 where unknown.</param>
    public void Learn(double powerPercent, double milliamps, long day, double beamSeconds, double health)
    {
        var node = Find(powerPercent);
        var learning = IsLearning(beamSeconds);
        if (node is null)
        {
            if (_nodes.Count >= 101)
                return;
            _nodes.Add(node = new Node { Power = Math.Round(powerPercent), Late = !learning, HealthAtStart = learning ? 1 : health });
        }

        if (node.Blocks.Length >= MostBlocks || (!learning && !(node.Late && node.Blocks.Length < 2 * LeastBlocks)))
            return;
        var value = milliamps / node.HealthAtStart;
        // What has fallen, or was never like the rest, must not become the baseline it is held against.
        if (node.Blocks.Length >= LeastBlocks && Math.Abs((value / node.Value) - 1) > 0.6 * options.Sag)
            return;
        if (node.Late && node.Blocks.Length < LeastBlocks && _curve.At(powerPercent) is { } between
            && Math.Abs((value / between.Milliamps) - 1) > (0.6 * options.Sag) + (2 * between.Error))
            return;
        node.Blocks = [.. node.Blocks, value];
        if (day != node.LastDay)
            node.Days++;
        node.LastDay = day;
        var sorted = node.Blocks.ToArray();
        node.Value = RobustLocation.Median(sorted);
        for (var i = 0; i < sorted.Length; i++)
            sorted[i] = Math.Abs(node.Blocks[i] - node.Value);
        var deviation = 1.4826 * RobustLocation.Median(sorted) / node.Value;
        // Blocks of one day share the day's mains and room, so they average only from day to day.
        node.Error = Math.Sqrt((deviation * deviation / node.Blocks.Length) + (WanderOfOneDay * WanderOfOneDay / node.Days));
        if (node.Blocks.Length >= LeastBlocks)
            Draw();
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _installed);
        state.Walk(ref _beamSecondsAtStart);
        state.Walk(_nodes, () => new Node(), node => node.Visit(state));
        if (state.IsLoading)
            Draw();
    }

    private void Draw()
    {
        _learned.Clear();
        foreach (var node in _nodes)
        {
            if (node.Blocks.Length >= LeastBlocks)
                _learned.Add((node.Power, node.Value, node.Error));
        }

        _learned.Sort(static (a, b) => a.Power.CompareTo(b.Power));
        _curve.Set(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_learned));
    }

    private Node? Find(double powerPercent)
    {
        var rounded = Math.Round(powerPercent);
        foreach (var node in _nodes)
        {
            if (node.Power == rounded)
                return node;
        }

        return null;
    }

    private sealed class Node
    {
        public double Power;
        public double[] Blocks = [];
        public double Value;
        public double Error;
        public long LastDay = long.MinValue;
        public int Days;
        public bool Late;
        public double HealthAtStart = 1;
        public int Above;
        public int Below;
        public double LowestBelow = double.PositiveInfinity;
        public double HighestBelow = double.NegativeInfinity;

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Power);
            state.Walk(ref Blocks);
            state.Walk(ref Value);
            state.Walk(ref Error);
            state.Walk(ref LastDay);
            state.Walk(ref Days);
            state.Walk(ref Late);
            state.Walk(ref HealthAtStart);
            state.Walk(ref Above);
            state.Walk(ref Below);
            state.Walk(ref LowestBelow);
            state.Walk(ref HighestBelow);
        }
    }
}
