using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;
using LaserWatch.Trends;

namespace LaserWatch.Models;

/// <summary>How a tube's health ratio has gone, stint by stint of beam, and whether it changed at once or slowly.</summary>
/// <remarks>
/// A stint is up to half an hour of beam of one run, or of short runs close together. What its blocks share (mains, room, warm tube) is wander,
/// which averages only over days; see <see cref="WanderingNoise"/>.
/// </remarks>
internal sealed class TubeCourse(TubeCurrentOptions options)
{
    private const int MostBlocks = 32;
    private const int LeastBlocksOfRun = 8;
    private const double LeastBlockError = 0.002;
    private const double LoneBlockError = 0.006;
    private const double WanderAtFirst = 0.006;
    private const double LeastWander = 0.003;

    /// <summary>Mains and room change over a working day.</summary>
    private const double MemoryDays = 0.25;
    private const int LooksBack = 200;

    // Percent of full power; days before the step; share of what came after that has its like before; share of the fall seen so.
    private const double LikePower = 1.5;
    private const double LikeDays = 60;
    private const double LeastLike = 0.25;
    private const double LeastOfFall = 0.6;
    private const double BeamHoursPerYear = 1000;
    private static readonly TimeSpan StintOfBeam = TimeSpan.FromMinutes(24);
    private static readonly TimeSpan Apart = TimeSpan.FromMinutes(30);

    private readonly ChangeModel _model = new();
    private int _blocks;
    private double _sum;
    private double _squares;
    private double _secondsSum;
    private double _powerSum;
    private Instant _first;
    private Instant _last;
    private long _run;
    private long _judgedDay = long.MinValue;
    private ChangeFinding _change;

    public HealthSeries Series { get; } = new();

    /// <summary>The newest comparison of the models; of kind unknown before there are three stints.</summary>
    public ChangeFinding Change => _change;

    /// <summary>How far the ratio strays from day to day in good health, as a standard deviation.</summary>
    public double Wander { get; private set; } = WanderAtFirst;

    /// <summary>How many standard errors a level must lie off the baseline, so that chance alone tells so once in the wanted time.</summary>
    /// <remarks>A look at every stint is a chart of likelihood ratios over all places a change may have begun; two courses share the budget.</remarks>
    public double Sigmas { get; } = Math.Sqrt(2 * ShiftGlrDesign.WithWindow(
        LooksBack, new RunLengthBudget(options.YearsBetweenFalseAlarms, BeamHoursPerYear, Charts: 2).RunLength(StintOfBeam), twoSided: false).Threshold);

    /// <summary>Takes the ratio of one block.</summary>
    public void Take(double ratio, Instant at, long run, double power)
    {
        if (_blocks > 0 && (at - _last > Apart || _blocks >= MostBlocks || (run != _run && _blocks >= LeastBlocksOfRun)))
            CloseStint();
        if (_blocks == 0)
            (_first, _sum, _squares, _secondsSum, _powerSum) = (at, 0, 0, 0, 0);
        _blocks++;
        // About 1, so that the squares stay exact.
        _sum += ratio - 1;
        _squares += (ratio - 1) * (ratio - 1);
        _secondsSum += at.SecondsSince(_first);
        _powerSum += power;
        (_last, _run) = (at, run);
    }

    /// <summary>The comparison with the stint under way taken in; for explaining, so nothing is kept of it.</summary>
    public ChangeFinding Present()
    {
        if (_blocks < 2)
            return _change;
        var count = Series.Count + 1;
        Span<double> days = new double[count], ratios = new double[count], variances = new double[count], within = new double[count];
        Series.Days.CopyTo(days);
        Series.Ratios.CopyTo(ratios);
        Series.Variances.CopyTo(variances);
        Series.DaysWithin.CopyTo(within);
        var (at, ratio, variance) = Stint();
        (days[^1], ratios[^1], variances[^1], within[^1]) = (HealthSeries.ToDays(at), ratio, variance, 1);
        var finding = _model.Fit(days, ratios, variances, within, Wander, MemoryDays);
        return finding.Kind == ChangeKind.Unknown ? _change : finding;
    }

    /// <summary>
    /// Whether the step stands with each power held against itself. Powers of one course may age apart, and then a change of the mix of
    /// jobs moves the ratio at once although nothing happened.
    /// </summary>
    public bool StandsAtLikePowers(in ChangeFinding step)
    {
        double fall = 0, weight = 0, all = 0;
        for (var after = 0; after < Series.Count; after++)
        {
            if (Series.Days[after] < step.BeganDays)
                continue;
            var own = 1 / Series.Variances[after];
            all += own;
            if (RatioBefore(step.BeganDays, Series.Powers[after]) is not { } before)
                continue;
            weight += own;
            fall += own * (before - Series.Ratios[after]);
        }

        return weight > LeastLike * all && fall >= LeastOfFall * step.Fall * weight;
    }

    public void Clear()
    {
        Series.Clear();
        (_blocks, _judgedDay, _change, Wander) = (0, long.MinValue, default, WanderAtFirst);
    }

    public void Visit(StateVisitor state)
    {
        Series.Visit(state);
        state.Walk(ref _blocks);
        state.Walk(ref _sum);
        state.Walk(ref _squares);
        state.Walk(ref _secondsSum);
        state.Walk(ref _powerSum);
        state.Walk(ref _first);
        state.Walk(ref _last);
        state.Walk(ref _run);
        state.Walk(ref _judgedDay);
        var wander = Wander;
        state.Walk(ref wander);
        Wander = wander;
        _change = VisitChange(state, _change);
    }

    internal static ChangeFinding VisitChange(StateVisitor state, ChangeFinding c)
    {
        var kind = c.Kind;
        var (none, step, ramp) = (c.None, c.Step, c.Ramp);
        var (began, from, to) = (c.BeganDays, c.BeganFromDays, c.BeganToDays);
        var (before, now, nowError, fall, fallError, evidence) = (c.Before, c.Now, c.NowError, c.Fall, c.FallError, c.Evidence);
        state.Walk(ref kind);
        state.Walk(ref none);
        state.Walk(ref step);
        state.Walk(ref ramp);
        state.Walk(ref began);
        state.Walk(ref from);
        state.Walk(ref to);
        state.Walk(ref before);
        state.Walk(ref now);
        state.Walk(ref nowError);
        state.Walk(ref fall);
        state.Walk(ref fallError);
        state.Walk(ref evidence);
        return new(kind, none, step, ramp, began, from, to, before, now, nowError, fall, fallError, evidence);
    }

    private double? RatioBefore(double days, double power)
    {
        double ratio = 0, weight = 0;
        for (var i = 0; i < Series.Count && Series.Days[i] < days; i++)
        {
            if (Series.Days[i] < days - LikeDays || Math.Abs(Series.Powers[i] - power) > LikePower)
                continue;
            weight += 1 / Series.Variances[i];
            ratio += Series.Ratios[i] / Series.Variances[i];
        }

        return weight > 0 ? ratio / weight : null;
    }

    private void CloseStint()
    {
        var (at, ratio, variance) = Stint();
        Series.Add(at, ratio, variance, _powerSum / _blocks);
        _blocks = 0;
        // A healthy series is looked at once a day; one that is down, at every stint.
        var day = (long)HealthSeries.ToDays(at);
        if (day == _judgedDay && ratio > 1 - (options.Sag / 2) && _change.Now > 1 - (options.Sag / 2))
            return;
        _judgedDay = day;
        Wander = Series.WanderOfDays(WanderAtFirst, LeastWander);
        Judge();
    }

    private void Judge() =>
        _change = _model.Fit(Series.Days, Series.Ratios, Series.Variances, Series.DaysWithin, Wander, MemoryDays);

    private (Instant At, double Ratio, double Variance) Stint()
    {
        var mean = _sum / _blocks;
        var variance = _blocks < 3
            ? LoneBlockError * LoneBlockError
            : Math.Max((_squares - (_sum * mean)) / (_blocks - 1), LeastBlockError * LeastBlockError);
        return (_first + TimeSpan.FromSeconds(_secondsSum / _blocks), 1 + mean, variance / _blocks);
    }
}
