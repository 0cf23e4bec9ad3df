using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Life;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string TubeLife = "tube-life";
}

/// <summary>The tube is near its rated hours or age, or its falling current is projected to end its life soon.</summary>
/// <remarks>
/// Low priority when near, medium when past for sure. An hour meter may be older than the tube: where nobody said when the tube was put in, it
/// can only say "if the tube is the original", and stays low. The projection is of tube current: a supply that regulates holds the
/// current while light fades, so no projection is no proof of a good tube.
/// </remarks>
internal sealed class TubeLife(ServiceLedger ledger, TubeHealth? tube, TubeLifeOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.TubeLife)
    {
        Judged = "The tube is at 90 % of its rated 8000 beam hours or 36 months, or its current is projected to reach 85 % of the baseline within 30 days.",
        Triggers = ChannelSet.Tick,
        Moment = RuleMoment.Upkeep,
        Weights =
        [
            new(Degree.Advice, Consequence.Scrap, TimeToRespond.Days, "time to order"),
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "past its rating"),
        ],
        ExplainedBy =
        [
            new(Conditions.TubeCurrentSag, false, "the fall is what the end is projected from"),
        ],
        Checks =
        [
            "Make a test cut of a proven job, with the extraction on, stay with the machine, and log it: hours and current do not show how much light is left",
            "See in the service log that the tube's installation is entered with its date and serial number",
            "Order a spare now: delivery takes longer than a tube's last weeks, and a spare ages on the shelf too",
            "Look up the warranty's date and terms before it is over",
            "Plan the exchange by a qualified person; the high-voltage side can kill, even switched off",
        ],
    };

    private const double SecondsBetweenLooks = 60;
    private const double SecondsPerDay = 86_400;

    // Of the way to the end of life: before that no fall could end within the look-ahead, and nothing is projected.
    private const double WorthProjecting = 0.15;

    // A tube ages over months. What falls within three weeks is a fault, which sag and step tell; and no farther is looked than was seen.
    private const double LeastDays = 21;

    // A projection that has raised the alarm is given up only when it has moved well away.
    private const double Release = 1.5;

    private Instant? _looked;
    private long _projectedDay = long.MinValue;
    private int _worksThen = -1;
    private TubeAge _age;
    private bool _breach;
    private bool _projected;
    private int _grade;
    private double? _low;
    private double? _median;
    private double? _high;
    private double _fallPerMonth;
    private double _p;

    /// <summary>Takes the tube's health, day by day: days since 1970, ratios to the baseline, their standard errors.</summary>
    /// <returns>What came of it.</returns>
    internal LifeProjection TakeHealth(ReadOnlySpan<double> days, ReadOnlySpan<double> ratios, ReadOnlySpan<double> errors)
    {
        var projection = LifeProjection.Project(days, ratios, errors, options.EndOfLifeRatio);
        (_low, _median, _high) = projection.Crossing is { } crossing ? (crossing.Low, crossing.Median, crossing.High) : (default(double?), default(double?), default(double?));
        if (projection.Passed)
            (_low, _median, _high) = (days[^1], days[^1], days[^1]);
        if (projection.Line is { } line && projection.Trend is { } trend)
            (_fallPerMonth, _p) = (-line.Slope * TubeAge.DaysPerMonth, trend.P);
        return projection;
    }

    /// <summary>A new tube: its health is another's.</summary>
    public override void Reset() => (_low, _median, _high, _projected) = (null, null, null, false);

    public override Verdict Update(Reading reading)
    {
        if (ledger.Began is null)
            return default;
        if (_looked is not { } last || _worksThen != ledger.WorksEver || reading.At.SecondsSince(last) is < 0 or >= SecondsBetweenLooks)
            Look(reading.At);
        var (value, limit, _) = Worst(reading.At);
        return new Verdict(_breach ? Judgement.Breach : Judgement.Normal, Math.Round(value, 1), limit, _grade);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var (_, _, unit) = Worst(reading.At);
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Advice), unit, "the tube is not near the end of its life", [], []);
        List<Evidence> evidence =
        [
            new("tube_hours", Math.Round(_age.Hours, 1)), new("tube_hours_at_most", Math.Round(_age.HoursAtMost, 1)), new("rated_hours", options.RatedHours),
            new("hours_from", _age.Method), new("rated_months", options.RatedMonths),
        ];
        if (_age.Months is { } months)
            evidence.Add(new("tube_months", Math.Round(months, 1)));
        if (_age.Installed is { } installed)
            evidence.Add(new("installed", installed.ToString()[..10]));
        if (_age.Serial is { } serial)
            evidence.Add(new("serial", serial));
        if (_low is { } low)
        {
            evidence.Add(new("projected_end_ratio", options.EndOfLifeRatio));
            evidence.Add(new("projection", "process with drift and measurement error, 90 % prediction interval"));
            evidence.Add(new("projected_end_earliest", Date(low)));
            evidence.Add(new("projected_end", _median is { } middle ? Date(middle) : "too far to say"));
            evidence.Add(new("projected_end_latest", _high is { } high ? Date(high) : "too far to say"));
            evidence.Add(new("fall_per_month", Math.Round(_fallPerMonth, 4)));
            evidence.Add(new("trend_p", Math.Round(_p, 5)));
        }

        return new Finding(PriorityOf(_grade > 0 ? Degree.Plain : Degree.Advice), unit, Words(), evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        if (ledger.TubeInstalled is null && options.Installed is null)
            lacks.Add("when the tube was put in: log it (part tube, action installed) or configure it");
        if (!reading.Knows(Channel.Runtime) && !reading.Knows(Channel.Lasing) && !reading.Knows(Channel.TubeCurrent))
            lacks.Add("beam hours: neither runtime, lasing nor tube_current was heard");
        return lacks;
    }

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _looked);
        state.Walk(ref _projectedDay);
        state.Walk(ref _worksThen);
        state.Walk(ref _breach);
        state.Walk(ref _projected);
        state.Walk(ref _grade);
        state.Walk(ref _low);
        state.Walk(ref _median);
        state.Walk(ref _high);
        state.Walk(ref _fallPerMonth);
        state.Walk(ref _p);

        // The age is worked out anew from the ledger, at the same moment.
        if (state.IsLoading && _looked is { } at)
            _age = TubeAge.Of(ledger, options, at);
    }

    private static string Date(double day) => Instant.FromUnixSeconds(Math.Min(day * SecondsPerDay, 9e9)).ToString()[..10];

    private void Look(Instant now)
    {
        (_looked, _worksThen) = (now, ledger.WorksEver);
        _age = TubeAge.Of(ledger, options, now);
        Project();
        var today = now.UnixNanoseconds / 1e9 / SecondsPerDay;
        _projected = _median is { } end && end - today <= options.LookAheadDays * (_projected ? Release : 1);
        var surely = Math.Max(_age.Hours / options.RatedHours, (_age.Months ?? 0) / options.RatedMonths);
        var perhaps = Math.Max(surely, _age.HoursAtMost / options.RatedHours);
        _breach = perhaps >= options.WarnFrom || _projected;
        _grade = surely >= 1 ? 1 : 0;
    }

    // Once a day that has something new: a projection of some hundred days takes milliseconds. Where a fall that was projected looks like
    // a step for a while, what was said stands.
    private void Project()
    {
        if (tube?.Course is not { } course || course.Series.Count == 0 || (long)course.Series.Days[^1] == _projectedDay)
            return;
        _projectedDay = (long)course.Series.Days[^1];
        if (course.Series.Ratios[^1] > 1 - (WorthProjecting * (1 - options.EndOfLifeRatio)))
        {
            (_low, _median, _high) = (null, null, null);
            return;
        }

        var health = HealthDays.Of(course.Series, course.Change, course.Wander);
        if (health.Days.Length > 0 && health.Days[^1] - health.Days[0] >= LeastDays)
            TakeHealth(health.Days, health.Ratios, health.Errors);
        else if (!_projected)
            (_low, _median, _high) = (null, null, null);
    }

    /// <summary>The figure that weighs most, and what it is held against.</summary>
    private (double Value, double Limit, string Unit) Worst(Instant now)
    {
        var hours = _age.HoursAtMost / options.RatedHours;
        var months = (_age.Months ?? 0) / options.RatedMonths;
        if (_projected && Math.Max(hours, months) < options.WarnFrom)
            return (_median!.Value - (now.UnixNanoseconds / 1e9 / SecondsPerDay), options.LookAheadDays, "d");
        return months > hours ? (_age.Months!.Value, options.RatedMonths, "months") : (_age.HoursAtMost, options.RatedHours, "h");
    }

    private string Words()
    {
        var (hours, months) = (_age.Hours / options.RatedHours, (_age.Months ?? 0) / options.RatedMonths);
        var surely = Math.Max(hours, months);
        if (surely >= options.WarnFrom)
        {
            var place = surely >= 1 ? "past" : "near";
            return months > hours
                ? string.Create(CultureInfo.InvariantCulture, $"the tube is {place} its rated age: {_age.Months:0.0} of {options.RatedMonths:0.#} months")
                : string.Create(CultureInfo.InvariantCulture, $"the tube is {place} its rated life: {_age.Hours:0} of {options.RatedHours:0} beam hours");
        }

        if (_age.HoursAtMost / options.RatedHours >= options.WarnFrom)
        {
            var place = _age.HoursAtMost >= options.RatedHours ? "past" : "near";
            return string.Create(CultureInfo.InvariantCulture, $"if the tube is as old as the {_age.HoursAtMost:0} beam hours counted, it is {place} its rated {options.RatedHours:0}: log when it was put in, to have it counted rightly");
        }

        if (_median <= (_looked?.UnixNanoseconds ?? 0) / 1e9 / SecondsPerDay)
            return string.Create(CultureInfo.InvariantCulture, $"the tube current has fallen to {options.EndOfLifeRatio * 100:0} % of its baseline, where a tube counts as worn out");
        return string.Create(CultureInfo.InvariantCulture, $"at its present fall the tube current reaches {options.EndOfLifeRatio * 100:0} % of its baseline about {Date(_median!.Value)}");
    }
}
