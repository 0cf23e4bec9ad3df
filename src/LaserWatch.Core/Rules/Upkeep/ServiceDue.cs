using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string ServiceDue = "service-due";
}

/// <summary>Work that comes round is due, by beam hours or by days since it was last logged.</summary>
/// <remarks>
/// Work that was never logged counts from the first sample of the watch, and the words say so. One alarm names all that is due; it is told
/// anew whenever that list changes, longer or shorter.
/// </remarks>
internal sealed class ServiceDue(ServiceLedger ledger, UpkeepOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.ServiceDue)
    {
        Judged = "Beam hours or days since a part was last served, by the intervals that you list.",
        Triggers = ChannelSet.Tick,
        Moment = RuleMoment.Upkeep,
        Weights =
        [
            new(Degree.Plain, Consequence.Little, TimeToRespond.Days, "by the shop's own intervals"),
        ],
        Checks =
        [
            "Do the work named when the machine next rests, switched off and locked; let the pressure off before an air line is opened; tube, supply and mains are a qualified person's work",
            "Log it on the machine's service topic or with the service verb: the count then begins anew",
            "Where it was done and not logged, log it with the time it was done",
        ],
    };

    private const double SecondsBetweenLooks = 60;

    private Instant? _looked;
    private int _worksThen = -1;
    private ulong _due;
    private int _grade;
    private double _value;
    private double _limit;
    private bool _byDays;

    public override Verdict Update(Reading reading)
    {
        if (options.Intervals.Count == 0 || ledger.Began is null)
            return default;
        if (_looked is not { } last || _worksThen != ledger.WorksEver || reading.At.SecondsSince(last) is < 0 or >= SecondsBetweenLooks)
            Look(reading.At);
        return new Verdict(_due != 0 ? Judgement.Breach : Judgement.Normal, _value, _limit, _grade);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        var unit = _byDays ? "d" : "h";
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), unit, "all work that comes round is done", [], []);
        List<string> parts = [];
        List<Evidence> evidence = [];
        for (var i = 0; i < options.Intervals.Count; i++)
        {
            if ((_due & Bit(i)) == 0)
                continue;
            var interval = options.Intervals[i];
            parts.Add(interval.Part);
            evidence.Add(new Evidence(interval.Part, Words(interval, reading.At)));
        }

        return new Finding(PriorityOf(Degree.Plain), unit, $"work is due at: {string.Join(", ", parts)}", evidence, Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        if (options.Intervals.Count == 0)
            return ["no intervals are configured"];
        return options.Intervals.Any(i => i.BeamHours is not null) && !reading.Knows(Channel.Lasing) && !reading.Knows(Channel.TubeCurrent)
            && !reading.Knows(Channel.Runtime)
            ? ["beam hours: neither lasing, tube_current nor runtime was heard"]
            : [];
    }

    public override void Visit(StateVisitor state)
    {
        var due = unchecked((long)_due);
        state.Walk(ref _looked);
        state.Walk(ref _worksThen);
        state.Walk(ref due);
        state.Walk(ref _grade);
        state.Walk(ref _value);
        state.Walk(ref _limit);
        state.Walk(ref _byDays);
        _due = unchecked((ulong)due);
    }

    // Beyond 64 intervals two share a bit: both are still judged and named, only a change between them is not told anew.
    private static ulong Bit(int interval) => 1ul << (interval % 64);

    private void Look(Instant now)
    {
        (_looked, _worksThen) = (now, ledger.WorksEver);
        var due = 0ul;
        var worst = 0.0;
        for (var i = 0; i < options.Intervals.Count; i++)
        {
            var interval = options.Intervals[i];
            var (hours, days, _) = Since(interval, now);
            var byHours = interval.BeamHours is { } most ? hours / most : 0;
            var byDays = interval.Days is { } mostDays ? days / mostDays : 0;
            var over = Math.Max(byHours, byDays);
            if (over >= 1)
                due |= Bit(i);
            if (over <= worst)
                continue;
            worst = over;
            _byDays = byDays > byHours;
            (_value, _limit) = _byDays ? (Math.Round(days, 2), interval.Days!.Value) : (Math.Round(hours, 2), interval.BeamHours!.Value);
        }

        if (due != _due)
            _grade = due == 0 ? 0 : _grade + 1;
        _due = due;
    }

    private (double Hours, double Days, PartUpkeep? Last) Since(ServiceInterval interval, Instant now)
    {
        PartUpkeep? last = null;
        if (interval.Actions.Count == 0)
        {
            last = ledger.Of(interval.Part);
        }
        else
        {
            for (var i = 0; i < interval.Actions.Count; i++)
            {
                if (ledger.Of(interval.Part, interval.Actions[i]) is { } one && (last is null || one.At > last.Value.At))
                    last = one;
            }
        }

        return last is { } done
            ? (done.BeamHoursSince, done.DaysSince(now), done)
            : (ledger.BeamHours, Math.Max(0, now.SecondsSince(ledger.Began!.Value) / 86_400), null);
    }

    private string Words(ServiceInterval interval, Instant now)
    {
        var (hours, days, last) = Since(interval, now);
        var most = (interval.BeamHours, interval.Days) switch
        {
            ({ } h, { } d) => string.Create(CultureInfo.InvariantCulture, $"{h:0.#} beam hours or {d:0.#} days"),
            ({ } h, null) => string.Create(CultureInfo.InvariantCulture, $"{h:0.#} beam hours"),
            (_, var d) => string.Create(CultureInfo.InvariantCulture, $"{d:0.#} days"),
        };
        var since = last is { } done ? $"since it was {done.LastAction} on {done.At.ToString()[..10]}" : "since the watch began; never logged";
        return string.Create(CultureInfo.InvariantCulture, $"{hours:0.0} beam hours and {days:0.0} days {since}; due after {most}");
    }
}
