using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>The sequential test on a learned loop's prediction errors: whether its resting point has moved, since when, and how far.</summary>
/// <remarks>
/// A two-sided CUSUM, designed from the wanted time between false alarms, of errors standardised by their long-run deviation. What the model
/// cannot know (its parameters' uncertainty, a room hotter than any before) and shifts of less than half of what is worth telling
/// are taken off each error before it counts. Under a radiator an error counts by how far a sound loop would be above the room at this
/// work, for in proportion to that a loss of cooling shows.
/// </remarks>
internal sealed class DriftTest(CoolantOptions options, LoopModel model)
{
    private const int Recent = 6;
    private const int LeastBlocksSinceChange = 2;
    private const double Sure = 3;
    private const double Outlier = 3.5;
    private const double LeastWeight = 0.1;
    private const double GreatestWeight = 2;
    private const double LeastShift = 0.2;
    private const double GreatestShift = 3;
    private const double MuchBetterKnown = 2.2;
    private const double OtherDeviation = 0.3;

    // Working hours of a small shop's loop in a year, to turn years into blocks; common practice, no source.
    private const double UseHoursPerYear = 1500;

    private readonly ErrorStretch _recent = new();
    private readonly ErrorStretch _up = new();
    private readonly ErrorStretch _down = new();
    private WeightedCusum? _cusum;
    private int _designedAt;
    private double _designedDeviation;
    private double _clear;
    private int _judged;

    public bool IsDrifting { get; private set; }

    /// <summary>The errors point away from health, though not yet surely.</summary>
    public bool IsSuspect => IsDrifting || (_cusum is { } cusum && cusum.Highest > cusum.DecisionInterval / 2);

    /// <summary>Enough blocks were judged to call the loop normal.</summary>
    public bool HasJudged => _judged >= Recent;

    /// <summary>How far the resting point has moved, under a radiator at full work, kelvins; above 0 is warmer.</summary>
    public double Shift { get; private set; }

    public double ShiftError { get; private set; }

    /// <summary>Where the sum for the present side began.</summary>
    public Instant ChangedAt => (Shift >= 0 ? _up : _down).From;

    /// <param name="row">As <see cref="LoopModel.Row"/> fills it.</param>
    /// <param name="error">Measured less predicted, kelvins.</param>
    /// <param name="soundRise">How far a sound loop would be above the room at this work, kelvins.</param>
    /// <param name="outside">As <see cref="LoopModel.Outside"/> gives it, kelvins.</param>
    public void Take(ReadOnlySpan<double> row, double error, double soundRise, double outside, Instant from)
    {
        var deviation = Math.Sqrt(model.LongRunVariance);
        Design(deviation);
        var weight = model.RiseAtWork is { } full ? Math.Clamp(soundRise / full, LeastWeight, GreatestWeight) : 1;
        var untold = model.Gain * options.LeastDriftKelvins / 2;
        var open = model.Gain * outside;
        var allowed = (Sure * Math.Sqrt(model.Spread(row))) + open + (weight * Math.Max(0, untold - (_cusum!.ReferenceValue * deviation)));
        var beyond = Math.Sign(error) * Math.Max(0, Math.Abs(error) - allowed) / deviation;
        var side = _cusum.Update(Math.Clamp(beyond, -Outlier, Outlier), weight);

        _judged++;
        _recent.Fade(Recent, weight);
        _recent.Add(row, error, open, weight);
        Follow(_up, _cusum.UpperRun, row, error, open, weight, from);
        Follow(_down, _cusum.LowerRun, row, error, open, weight, from);
        Decide(side, weight);
    }

    /// <summary>What is normal is another thing from now on: nothing stands, and the test is designed anew.</summary>
    public void Restart()
    {
        Settle();
        _cusum = null;
        _judged = 0;
    }

    public void Visit(StateVisitor state)
    {
        _recent.Visit(state);
        _up.Visit(state);
        _down.Visit(state);
        VisitCusum(state);
        state.Walk(ref _designedAt);
        state.Walk(ref _designedDeviation);
        state.Walk(ref _clear);
        state.Walk(ref _judged);
        var (drifting, shift, error) = (IsDrifting, Shift, ShiftError);
        state.Walk(ref drifting);
        state.Walk(ref shift);
        state.Walk(ref error);
        (IsDrifting, Shift, ShiftError) = (drifting, shift, error);
    }

    private static void Follow(
        ErrorStretch stretch, long run, ReadOnlySpan<double> row, double error, double outside, double weight, Instant at)
    {
        if (run <= 1)
            stretch.Begin(at);
        else
            stretch.Add(row, error, outside, weight);
    }

    private void Decide(CusumSide side, double weight)
    {
        var since = side == CusumSide.Upper || (side == CusumSide.None && Shift >= 0) ? _up : _down;
        var (lately, latelyFar) = Weigh(_recent, Recent - 1);
        var (whole, wholeFar) = Weigh(since, LeastBlocksSinceChange);
        var chosen = Math.Abs(whole) > Math.Abs(lately) ? since : _recent;
        Shift = chosen.Shift(model);
        ShiftError = chosen.Error(model);

        if (!IsDrifting)
        {
            var sign = side switch { CusumSide.Upper => 1, CusumSide.Lower => -1, _ => 0 };
            IsDrifting = sign != 0 && ((latelyFar && Math.Sign(lately) == sign) || (wholeFar && Math.Sign(whole) == sign));
            _clear = 0;
            return;
        }

        _clear = Math.Abs(lately) < options.LeastDriftKelvins / 2 ? _clear + (weight * weight) : 0;
        if (_clear >= Recent)
            Settle();
    }

    private (double Shift, bool Far) Weigh(ErrorStretch stretch, int least)
    {
        if (stretch.Count < least)
            return (0, false);
        var shift = stretch.Shift(model);
        return (shift, Math.Abs(shift) >= Math.Max(options.LeastDriftKelvins, (Sure * stretch.Error(model)) + (stretch.Outside / model.Gain)));
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

    /// <summary>Designs the test at first, and again when what it stands on is much better known or has changed.</summary>
    private void Design(double deviation)
    {
        var stale = _cusum is null
            || (!IsSuspect && ((model.Learned >= MuchBetterKnown * _designedAt && _designedAt < LoopWatch.BlocksThatAreEnough)
                || Math.Abs(Math.Log(deviation / _designedDeviation)) > OtherDeviation));
        if (!stale)
            return;
        var shift = Math.Clamp(model.Gain * options.LeastDriftKelvins / deviation, LeastShift, GreatestShift);
        var blocks = options.DriftFalseAlarmYears * UseHoursPerYear * 3600 / CoolantBlocks.Seconds;
        var design = CusumDesign.For(shift, blocks);
        _cusum = new WeightedCusum(design.ReferenceValue, design.DecisionInterval);
        (_designedAt, _designedDeviation) = (model.Learned, deviation);
        _up.Clear();
        _down.Clear();
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

        var (reference, interval) = (_cusum?.ReferenceValue ?? 0, _cusum?.DecisionInterval ?? 0);
        state.Walk(ref reference);
        state.Walk(ref interval);
        if (state.IsLoading)
            _cusum = new WeightedCusum(reference, interval);
        _cusum!.Visit(state);
    }
}
