using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CoolantDrift = "coolant-drift";
}

/// <summary>The coolant has moved away from its own normal at like load and room temperature, as <see cref="LoopWatch"/> judges it.</summary>
internal sealed class CoolantDrift(LoopWatch loop, RiseWatch rise, CoolantOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.CoolantDrift)
    {
        Judged = "The coolant is at least 1.5 K, and surely, away from its own normal at like load and room temperature.",
        Triggers = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "something in the loop has changed"),
        ],
        ExplainedBy =
        [
            new(Conditions.CoolantHot, true, "the coolant is past its limit, which says more", 30),
            new(Conditions.CoolantFlowLow, true, "less flow moves the coolant from its normal", 30),
        ],
        Checks =
        [
            "Look at the chiller's set point and alarms; with the fan switched off and cool, at its fins for dust",
            "Look at the coolant level, and for bubbles; do not touch tube or hoses near the high-voltage end",
            "Listen for a weak pump and look for a pinched hose; do not touch tube or hoses near the high-voltage end",
            "With the beam off, compare the sensor with a thermometer in the reservoir",
        ],
    };

    // Two sides of a normal interval that holds nine times in ten.
    private const double NinetyPercent = 1.645;

    private const double LeastWeightTold = 0.02;

    public override Verdict Update(Reading reading)
    {
        if (!LoopWatch.Knows(reading) || !loop.IsTaught || !loop.Test.HasJudged)
            return default;
        var limit = loop.Measured - loop.Test.Shift + (Math.Sign(loop.Test.Shift) * options.LeastDriftKelvins);
        return new Verdict(loop.Test.IsDrifting ? Judgement.Breach : Judgement.Normal, Math.Round(loop.Measured, 2), Math.Round(limit, 2));
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), "°C", "the coolant is back at its own normal", [], []);
        var account = DriftCauses.Of(loop, rise);
        var (shift, error) = (loop.Test.Shift, loop.Test.ShiftError);
        var direction = shift > 0 ? "warmer" : "colder";
        var (cause, weight) = account.Causes[0];
        var course = account.Gradual > 0.5 ? "slowly" : "at once";
        List<Evidence> evidence =
        [
            new Evidence("shift_kelvins", Math.Round(shift, 2)), new Evidence("shift_standard_error", Math.Round(error, 2)),
            new Evidence("shift_low", Math.Round(shift - (NinetyPercent * error), 2)), new Evidence("shift_high", Math.Round(shift + (NinetyPercent * error), 2)),
            new Evidence("expected", Math.Round(loop.Measured - shift, 2)), new Evidence("since", account.Since.ToString()),
            new Evidence("gradual_probability", Math.Round(account.Gradual, 2)), new Evidence("cause", DriftCauses.Name(cause)),
        ];
        foreach (var (name, share) in account.Causes)
        {
            if (share >= LeastWeightTold)
                evidence.Add(new Evidence("weight_" + DriftCauses.Name(name).Replace('-', '_'), Math.Round(share, 2)));
        }

        var model = loop.Model;
        evidence.Add(new Evidence("load", Math.Round(loop.Work.Load, 3)));
        evidence.Add(new Evidence("ambient_temperature", Math.Round(loop.Work.Room, 2)));
        evidence.Add(new Evidence("room_coupling", Math.Round(model.RoomCoupling, 2)));
        evidence.Add(new Evidence("hours_learned", Math.Round(model.Learned * CoolantBlocks.Seconds / 3600, 1)));
        if (rise.RatioNow is { } ratio)
            evidence.Add(new Evidence("rise_at_like_load_ratio", Math.Round(ratio, 3)));
        if (loop.Morning.Moved is { } morning)
            evidence.Add(new Evidence("morning_rest_moved_kelvins", Math.Round(morning, 2)));
        return new Finding(
            PriorityOf(Degree.Plain), "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant rests {Math.Abs(shift):0.0} K (± {NinetyPercent * error:0.0} K) {direction} than this machine's own normal at like load and room temperature; it came {course}, most likely by {DriftCauses.Words(cause)} ({100 * weight:0} %)"),
            evidence, [.. account.Causes.Where(c => c.Weight >= 0.1).Select(c => DriftCauses.Check(c.Cause)).Concat(Checks).Distinct()]);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        foreach (var channel in new[] { Channel.Canonical[LoopWatch.ChannelOf(reading)], Channel.AmbientTemperature })
        {
            if (reading.Lack(channel) is { } lack)
                lacks.Add(lack);
        }

        if (reading.BeamOn is null)
            lacks.Add($"{Channel.Lasing.Name} or {Channel.TubeCurrent.Name}: the load is not known");
        if (!loop.IsTaught)
            lacks.Add(string.Create(CultureInfo.InvariantCulture, $"the machine's normal is being learned: {loop.Model.Learned * CoolantBlocks.Seconds / 3600:0.0} of {LoopWatch.BlocksThatTeach * CoolantBlocks.Seconds / 3600:0} h with the beam in use"));
        else if (loop.LoadIsKnownOtherwise)
            lacks.Add("the load is known in another way than when the machine's normal was learned: a channel is missing or new");
        return lacks;
    }

    public override void Visit(StateVisitor state)
    {
    }
}
