using MathNet.Numerics;

namespace LaserWatch.Trends;

/// <summary>Tells a step from a ramp from nothing, in a series with wandering noise.</summary>
/// <remarks>
/// Three models are held against each other by their marginal likelihood: a level; a level that falls at once at one of the points; a level
/// that falls evenly from one of the points to the end. The level has a flat prior, the fall a half-normal one, the place a uniform one, so that a place found by
/// search pays for the search. Generalised least squares by <see cref="WanderingNoise"/>. Method: Kass and Raftery, Bayes factors, JASA 90 (1995) 773,
/// from memory; checked against brute-force integration in the tests.
/// <para>
/// One change is modelled: what lies before the last clear rise (a repair, a new supply) is another story, and is cut off.
/// Off the path of a sample: O(n²) in the number of points. Buffers are kept.
/// </para>
/// </remarks>
public sealed class ChangeModel
{
    /// <summary>Scale of the half-normal prior of a fall: most falls that matter are some percent to some tens of percent.</summary>
    private const double FallScale = 0.1;
    private const int LeastPoints = 3;
    private const int MostCuts = 4;

    /// <summary>Half the squared z-score from which a rise is no chance, however many places were tried.</summary>
    private const double ClearRise = 12;

    /// <summary>How many points on either side are near.</summary>
    private const int Near = 24;

    private readonly WanderingNoise _noise = new();
    private double[] _one = [], _data = [], _shape = [], _logs = [], _levels = [], _levelVariances = [], _falls = [], _fallVariances = [];

    /// <summary>How many points of the last series lay before its last clear rise, and were cut off.</summary>
    public int CutOff { get; private set; }

    /// <summary>Holds the models against the series.</summary>
    /// <param name="days">Times, in days, rising.</param>
    /// <param name="values">The series, such as health ratios near 1.</param>
    /// <param name="variances">Variance of each value's own error.</param>
    /// <param name="daysWithin">Over how many days each value is a mean; 1 for less.</param>
    /// <param name="wander">Standard deviation of what all values of some hours share.</param>
    /// <param name="memoryDays">Correlation time of the wander, in days.</param>
    /// <returns><see cref="ChangeKind.Unknown"/> where there are fewer than three points.</returns>
    public ChangeFinding Fit(
        ReadOnlySpan<double> days, ReadOnlySpan<double> values, ReadOnlySpan<double> variances, ReadOnlySpan<double> daysWithin,
        double wander, double memoryDays)
    {
        CutOff = 0;
        if (days.Length < LeastPoints)
            return default;
        Prepare(days, values, variances, daysWithin, wander, memoryDays);
        for (var cut = 0; cut < MostCuts; cut++)
        {
            var rise = ClearRiseAt(days.Length);
            if (rise == 0 || days.Length - rise < LeastPoints)
                break;
            CutOff += rise;
            days = days[rise..];
            values = values[rise..];
            variances = variances[rise..];
            daysWithin = daysWithin[rise..];
            Prepare(days, values, variances, daysWithin, wander, memoryDays);
        }

        return Compare(days);
    }

    private void Prepare(
        ReadOnlySpan<double> days, ReadOnlySpan<double> values, ReadOnlySpan<double> variances, ReadOnlySpan<double> daysWithin,
        double wander, double memoryDays)
    {
        var count = days.Length;
        if (_one.Length < count)
        {
            (_one, _data, _shape) = (new double[2 * count], new double[2 * count], new double[2 * count]);
            (_logs, _levels, _levelVariances) = (new double[4 * count], new double[4 * count], new double[4 * count]);
            (_falls, _fallVariances) = (new double[4 * count], new double[4 * count]);
        }

        _noise.Prepare(days, variances, daysWithin, wander, memoryDays);
        _one.AsSpan(0, count).Fill(1);
        _noise.Whiten(_one.AsSpan(0, count), _one);
        _noise.Whiten(values, _data);
    }

    // The last place where the near past lies clearly below the near future. Near, because a later fall would hide a rise from a look at the whole.
    private int ClearRiseAt(int count)
    {
        var (last, peak) = (0, 0.0);
        for (var k = 1; k < count; k++)
        {
            var fit = SolveNear(k, count);
            var square = fit.Change > 0 ? fit.Change * fit.Change / (2 * fit.ChangeVariance) : 0;
            // Many places fit one rise somewhat; the one that fits best is it.
            if (square > ClearRise && (square > peak || k - last > Near))
                (last, peak) = (k, square);
        }

        return last;
    }

    private Fitted SolveNear(int k, int count)
    {
        var (from, to) = (Math.Max(0, k - Near), Math.Min(count, k + Near));
        return Solve(StepAt(k, to), k, to, SumsOf(from, to));
    }

    private ChangeFinding Compare(ReadOnlySpan<double> days)
    {
        var count = days.Length;
        var end = days[^1];
        // The same for every place of a change.
        var sums = SumsOf(0, count);
        var (level, levelVariance) = (sums.OneData / sums.OneOne, 1 / sums.OneOne);
        // Steps first, then ramps; the onset of a ramp may be the first point: it began before.
        var steps = count - 1;
        var ramps = count - 2;
        var best = (Index: 0, Log: double.NegativeInfinity);
        var evidence = 0.0;
        for (var i = 0; i < steps + ramps; i++)
        {
            var isStep = i < steps;
            var first = isStep ? i + 1 : i - steps;
            var fit = Solve(isStep ? StepAt(first, count) : RampFrom(first, days), first, count, sums);
            _logs[i] = LogBayesFactor(fit) - Math.Log(isStep ? steps : ramps);
            (_levels[i], _levelVariances[i]) = (fit.Level + fit.Change, fit.EndVariance);
            (_falls[i], _fallVariances[i]) = (-fit.Change, fit.ChangeVariance);
            if (fit.Change < 0)
                evidence = Math.Max(evidence, fit.Change * fit.Change / (2 * fit.ChangeVariance));
            if (_logs[i] > best.Log)
                best = (i, _logs[i]);
        }

        // The three models are equally likely beforehand; weights are relative to no change.
        var top = Math.Max(0, best.Log);
        var none = Math.Exp(-top);
        double step = 0, ramp = 0, now = none * level, square = none * (levelVariance + (level * level));
        for (var i = 0; i < steps + ramps; i++)
        {
            var weight = Math.Exp(_logs[i] - top);
            if (i < steps)
                step += weight;
            else
                ramp += weight;
            now += weight * _levels[i];
            square += weight * (_levelVariances[i] + (_levels[i] * _levels[i]));
        }

        var total = none + step + ramp;
        now /= total;
        var error = Math.Sqrt(Math.Max(square / total - (now * now), 0));
        (none, step, ramp) = (none / total, step / total, ramp / total);
        var kind = none >= Math.Max(step, ramp) ? ChangeKind.None : step >= ramp ? ChangeKind.Step : ChangeKind.Ramp;
        var (from, to) = step >= ramp ? (0, steps) : (steps, steps + ramps);
        var (began, beganFrom, beganTo, fall, fallError) = Place(days, from, to, isStep: step >= ramp);
        return kind == ChangeKind.None
            ? new(kind, none, step, ramp, end, end, end, level, now, error, 0, error, evidence)
            : new(kind, none, step, ramp, began, beganFrom, beganTo, now + fall, now, error, fall, fallError, evidence);
    }

    private (double Began, double From, double To, double Fall, double FallError) Place(ReadOnlySpan<double> days, int from, int to, bool isStep)
    {
        var top = double.NegativeInfinity;
        for (var i = from; i < to; i++)
            top = Math.Max(top, _logs[i]);
        double total = 0, fall = 0, square = 0;
        for (var i = from; i < to; i++)
        {
            var weight = Math.Exp(_logs[i] - top);
            total += weight;
            fall += weight * _falls[i];
            square += weight * (_fallVariances[i] + (_falls[i] * _falls[i]));
        }

        fall /= total;
        var error = Math.Sqrt(Math.Max(square / total - (fall * fall), 0));
        double sum = 0, began = days[0], low = days[0], high = days[^1];
        var (haveLow, haveMiddle) = (false, false);
        for (var i = from; i < to; i++)
        {
            sum += Math.Exp(_logs[i] - top) / total;
            // A step at point k came after point k − 1.
            var first = isStep ? i - from + 1 : i - from;
            if (!haveLow && sum >= 0.025)
                (low, haveLow) = (days[Math.Max(first - (isStep ? 1 : 0), 0)], true);
            if (!haveMiddle && sum >= 0.5)
                (began, haveMiddle) = (days[first], true);
            if (sum >= 0.975)
            {
                high = days[first];
                break;
            }
        }

        return (began, low, high, fall, error);
    }

    private ReadOnlySpan<double> StepAt(int first, int count)
    {
        _shape.AsSpan(first, count - first).Fill(1);
        _noise.Whiten(_shape.AsSpan(0, count), _shape, first, count);
        return _shape;
    }

    private ReadOnlySpan<double> RampFrom(int first, ReadOnlySpan<double> days)
    {
        var length = days[^1] - days[first];
        for (var i = first; i < days.Length; i++)
            _shape[i] = (days[i] - days[first]) / length;
        _noise.Whiten(_shape.AsSpan(0, days.Length), _shape, first);
        return _shape;
    }

    private (double OneOne, double OneData) SumsOf(int from, int to)
    {
        double oneOne = 0, oneData = 0;
        for (var i = from; i < to; i++)
        {
            oneOne += _one[i] * _one[i];
            oneData += _one[i] * _data[i];
        }

        return (oneOne, oneData);
    }

    // Least squares of level and shape; the shape is 1 at the end and zero before its first point.
    private Fitted Solve(ReadOnlySpan<double> shape, int first, int count, (double OneOne, double OneData) sums)
    {
        var (oneOne, oneData) = sums;
        double oneShape = 0, shapeShape = 0, shapeData = 0;
        for (var i = first; i < count; i++)
        {
            oneShape += _one[i] * shape[i];
            shapeShape += shape[i] * shape[i];
            shapeData += shape[i] * _data[i];
        }

        var determinant = (oneOne * shapeShape) - (oneShape * oneShape);
        // At the first point a ramp of a step's shape cannot be told from the level itself.
        if (determinant <= 1e-12 * oneOne * shapeShape)
            return new Fitted(oneData / oneOne, 0, double.PositiveInfinity, 1 / oneOne);
        var change = ((shapeData * oneOne) - (oneShape * oneData)) / determinant;
        var level = ((oneData * shapeShape) - (oneShape * shapeData)) / determinant;
        return new Fitted(level, change, oneOne / determinant, (shapeShape - (2 * oneShape) + oneOne) / determinant);
    }

    // ∫ half-normal prior × normal likelihood of the fall, over the likelihood of no fall.
    private static double LogBayesFactor(in Fitted fit)
    {
        if (double.IsPositiveInfinity(fit.ChangeVariance))
            return 0;
        var prior = FallScale * FallScale;
        var shrink = prior / (prior + fit.ChangeVariance);
        var mean = shrink * fit.Change;
        var variance = shrink * fit.ChangeVariance;
        var below = 0.5 * SpecialFunctions.Erfc(mean / Math.Sqrt(2 * variance));
        return below < 1e-300
            ? -700
            : Math.Log(2 * below) + (0.5 * Math.Log(1 - shrink)) + (mean * mean / (2 * variance));
    }

    private readonly record struct Fitted(double Level, double Change, double ChangeVariance, double EndVariance);
}
