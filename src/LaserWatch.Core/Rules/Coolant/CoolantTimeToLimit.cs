using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CoolantTimeToLimit = "coolant-time-to-limit";
}

/// <summary>At the present course the coolant reaches its hot limit within the look-ahead.</summary>
/// <remarks>
/// The course is the slope over the last five minutes (least squares over 15 s means). Once the machine's loop is learned, the course and
/// the loop's own resting point under the present load and room each say where it is bound, and are weighed by their variances; the limit
/// must be reached with the wanted probability (<see cref="LoopForecast"/>). Where the two contradict each other, or nothing is learned yet, the
/// course alone counts, with all that it leaves open (<see cref="CourseForecast"/>): after every start it may yet settle. A rise within what
/// the machine has done in good health before is no news.
/// </remarks>
internal sealed class CoolantTimeToLimit(LoopWatch loop, CoolantOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.CoolantTimeToLimit)
    {
        Judged = "By its present course and the learned loop the coolant reaches the hot limit within 10 min, nineteen times in twenty.",
        Triggers = ChannelSet.Of(Channel.CoolantIn),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "hot within minutes"),
        ],
        ExplainedBy =
        [
            new(Conditions.CoolantHot, true, "the limit is reached", 30),
            new(Conditions.CoolantFlowLow, false, "less flow warms the coolant"),
        ],
        Checks =
        [
            "Plan a pause before the time given",
            "See, without touching, that the chiller or the radiator's fan runs and breathes freely; switch it off before you clean it",
            "Look at the coolant level and the return jet; do not touch tube or hoses near the high-voltage end",
        ],
    };

    private const double BinSeconds = 15;
    private const int Bins = CourseForecast.Bins;
    private const int Half = Bins / 2;
    private const int BinsOfHistoryThatCount = 480;
    private const double LeastRiseKelvins = 1;

    // Less in five minutes may be the step of a coarse thermometer (common practice, no source).
    private const double LeastRiseOfCourseKelvins = 0.5;

    // Of an interval, an end later than so many look-aheads counts as never.
    private const double LongestLooks = 6;
    private const int AgreeingBins = 4;

    // The course's own probability allows for its noise already.
    private const int AgreeingBinsOfCourse = 3;
    private const int BinsThatClear = 16;
    private const double LoadSeconds = 120;

    private Fading _fading = new(LoadSeconds);
    private double[] _bins = new double[Bins];
    private int _filled;
    private double _sum;
    private int _count;
    private Instant? _binStart;
    private double _highest = double.NegativeInfinity;
    private int _history;
    private int _agreeing;
    private int _clear;
    private bool _breach;
    private double _minutes;
    private double _slopePerMinute;
    private double? _soonest, _latest, _rest;
    private double _load;
    private Instant? _loadAt;

    public override Verdict Update(Reading reading)
    {
        if (!reading.Has(CanonicalIndex.CoolantIn))
            return default;
        if (reading.IsFresh(CanonicalIndex.CoolantIn))
            Follow(reading);
        return new(_breach ? Judgement.Breach : Judgement.Normal, _breach ? Math.Round(_minutes, 1) : null, options.LookAheadMinutes);
    }

    private void Follow(Reading reading)
    {
        var at = reading.TimeOf(CanonicalIndex.CoolantIn);
        FollowLoad(HeatLoad.Of(reading).Share, at);
        if (_binStart is not { } start || at.SecondsSince(start) > 4 * BinSeconds)
        {
            // A gap: the course before it says nothing of the course now.
            _filled = 0;
            _agreeing = 0;
            (_binStart, _sum, _count) = (at, 0, 0);
        }
        else if (at.SecondsSince(start) >= BinSeconds)
        {
            Close(_sum / _count, reading);
            (_binStart, _sum, _count) = (at, 0, 0);
        }

        _sum += reading[CanonicalIndex.CoolantIn];
        _count++;
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), "min", "the coolant no longer heads for its limit", [], []);
        List<Evidence> evidence =
        [
            new Evidence("coolant_in", Math.Round(_bins[Bins - 1], 2)), new Evidence("slope_kelvins_per_minute", Math.Round(_slopePerMinute, 3)),
            new Evidence("limit", options.HotCelsius), new Evidence("minutes", Math.Round(_minutes, 1)),
        ];
        if (_soonest is { } soonest)
            evidence.Add(new Evidence("minutes_soonest", Math.Round(soonest, 1)));
        if (_latest is { } latest)
            evidence.Add(new Evidence("minutes_latest", Math.Round(latest, 1)));
        if (_rest is { } rest)
            evidence.Add(new Evidence("bound_for", Math.Round(rest, 1)));
        evidence.Add(new Evidence("judged_by", _rest is null ? "course" : "course-and-learned-loop"));
        var interval = (_soonest, _latest) switch
        {
            ({ } from, { } to) => string.Create(CultureInfo.InvariantCulture, $" ({from:0} to {to:0})"),
            ({ } from, null) => string.Create(CultureInfo.InvariantCulture, $" (not before {from:0})"),
            _ => "",
        };
        return new Finding(
            PriorityOf(Degree.Plain), "min",
            string.Create(CultureInfo.InvariantCulture, $"coolant at {_bins[Bins - 1]:0.0} °C rises {_slopePerMinute:0.00} K/min: the limit of {options.HotCelsius:0.0} °C is about {_minutes:0} min away{interval}"),
            evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.CoolantIn) is { } lack ? [lack] : [];

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _bins);
        state.Walk(ref _filled);
        state.Walk(ref _sum);
        state.Walk(ref _count);
        state.Walk(ref _binStart);
        state.Walk(ref _highest);
        state.Walk(ref _history);
        state.Walk(ref _agreeing);
        state.Walk(ref _clear);
        state.Walk(ref _breach);
        state.Walk(ref _minutes);
        state.Walk(ref _slopePerMinute);
        state.Walk(ref _soonest);
        state.Walk(ref _latest);
        state.Walk(ref _rest);
        state.Walk(ref _load);
        state.Walk(ref _loadAt);
        if (state.IsLoading && _bins.Length != Bins)
            StateVisitor.Refuse();
    }

    private void Close(double mean, Reading reading)
    {
        if (_filled == Bins && _bins[0] is var leaving)
        {
            // History lags by the window, so that the course under judgement does not excuse itself.
            if (!_breach && _agreeing == 0)
            {
                _highest = Math.Max(_highest, leaving);
                _history++;
            }
        }

        Array.Copy(_bins, 1, _bins, 0, Bins - 1);
        _bins[Bins - 1] = mean;
        _filled = Math.Min(_filled + 1, Bins);
        if (_filled < Bins)
            return;

        var heads = HeadsForLimit(reading);
        _agreeing = heads ? _agreeing + 1 : 0;
        if (!_breach)
        {
            _breach = _agreeing >= (_rest is null ? AgreeingBinsOfCourse : AgreeingBins);
            _clear = 0;
            return;
        }

        _clear = heads || mean >= options.HotCelsius ? 0 : _clear + 1;
        _breach = _clear < BinsThatClear;
    }

    private bool HeadsForLimit(Reading reading)
    {
        var now = (_bins[Bins - 1] + _bins[Bins - 2]) / 2;
        var slope = Slope(0, Bins, out var spread, out var mean);
        _slopePerMinute = slope * 60 / BinSeconds;
        // No error makes a course that does not rise one that does.
        if (now >= options.HotCelsius || slope <= 0)
            return false;
        var error = Error(0, Bins, slope, spread, mean);
        if (slope - (2 * error) <= 0)
            return false;
        var (after, afterError) = Slope(Half, Half);
        if (after <= 0)
            return false;
        var beamLately = reading.BeamOn is null || (reading.BeamLastOn is { } last && reading.At - last < TimeSpan.FromMinutes(5));
        if (!beamLately)
            return false;
        var wanted = _breach ? options.LookAheadProbability / 2 : options.LookAheadProbability;
        if (LoopForecast.Of(loop, now, slope / BinSeconds, error / BinSeconds, _load) is { } forecast)
        {
            (_minutes, _soonest, _latest, _rest) = forecast.MinutesTo(options.HotCelsius);
            return forecast.Probability(options.HotCelsius, options.LookAheadMinutes) >= wanted && now >= _highest - LeastRiseKelvins;
        }

        _rest = null;
        if (_history >= BinsOfHistoryThatCount && now < _highest)
            return false;

        // Not even along the steepest straight line: the usual case, and the cheap one.
        var horizon = options.LookAheadMinutes * 60 / BinSeconds;
        var steepest = Math.Max(slope + (2 * error), after + (2 * afterError));
        if (now + (steepest * horizon) < options.HotCelsius || _bins[Bins - 1] - _bins[0] < LeastRiseOfCourseKelvins)
            return false;
        var course = new CourseForecast(_bins, stackalloc CourseForecast.Way[CourseForecast.Ways]);
        if (course.Probability(options.HotCelsius, horizon) < wanted)
            return false;
        var latest = LongestLooks * horizon;
        _minutes = (course.BinsTo(options.HotCelsius, 0.5, latest) ?? latest) * BinSeconds / 60;
        _soonest = course.BinsTo(options.HotCelsius, 0.05, latest) * BinSeconds / 60;
        _latest = course.BinsTo(options.HotCelsius, 0.95, latest) * BinSeconds / 60;
        return true;
    }

    private void FollowLoad(double load, Instant at)
    {
        var step = _loadAt is { } before ? at.SecondsSince(before) : double.PositiveInfinity;
        _load = step is >= 0 and < 10 * LoadSeconds ? _load + ((load - _load) * _fading.Weight(step)) : load;
        _loadAt = at;
    }

    /// <summary>Least-squares slope per bin over a stretch, and its standard error.</summary>
    private (double Slope, double Error) Slope(int from, int count)
    {
        var slope = Slope(from, count, out var spread, out var mean);
        return (slope, Error(from, count, slope, spread, mean));
    }

    private double Slope(int from, int count, out double spread, out double mean)
    {
        var meanX = (count - 1) / 2.0;
        mean = 0.0;
        for (var i = 0; i < count; i++)
            mean += _bins[from + i];
        mean /= count;
        double xx = 0, xy = 0;
        for (var i = 0; i < count; i++)
        {
            xx += (i - meanX) * (i - meanX);
            xy += (i - meanX) * (_bins[from + i] - mean);
        }

        spread = xx;
        return xy / xx;
    }

    private double Error(int from, int count, double slope, double spread, double mean)
    {
        var meanX = (count - 1) / 2.0;
        var rest = 0.0;
        for (var i = 0; i < count; i++)
        {
            var off = _bins[from + i] - mean - (slope * (i - meanX));
            rest += off * off;
        }

        return Math.Sqrt(rest / (count - 2) / spread);
    }
}
