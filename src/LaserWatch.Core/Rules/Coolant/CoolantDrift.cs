using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The coolant has moved away from its own normal at like load and room temperature, as <see cref="LoopWatch"/> judges it.</summary>
internal sealed class CoolantDrift(CoolantOptions options, RiseWatch rise) : IDetector
{
    // Two sides of a normal interval that holds nine times in ten.
    private const double NinetyPercent = 1.645;

    private const double LeastWeightTold = 0.02;

    private double _measured = double.NaN;
    private double _shift;
    private double _value;
    private double _limit;

    public string Condition => Conditions.CoolantDrift;

    /// <summary>The learned loop and its test.</summary>
    public LoopWatch Loop { get; } = new(options);

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut);

    public Verdict Update(Reading reading)
    {
        Follow(reading, HeatLoad.Of(reading));
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading, HeatLoad load)
    {
        if (!LoopWatch.Knows(reading))
            return false;
        Loop.Follow(reading, load);
        return Loop.IsTaught && Loop.Test.HasJudged && Loop.Test.IsDrifting;
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        if (!LoopWatch.Knows(reading) || !Loop.IsTaught || !Loop.Test.HasJudged)
            return default;
        // Both move only when a block of minutes is judged, and are asked for with every sample.
        if (Loop.Measured != _measured || Loop.Test.Shift != _shift)
        {
            (_measured, _shift) = (Loop.Measured, Loop.Test.Shift);
            _value = Math.Round(_measured, 2);
            _limit = Math.Round(_measured - _shift + (Math.Sign(_shift) * options.LeastDriftKelvins), 2);
        }

        return new Verdict(Loop.Test.IsDrifting ? Judgement.Breach : Judgement.Normal, _value, _limit);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(Priorities.Of(Condition, Degree.Plain), "°C", "the coolant is back at its own normal", [], []);
        var account = DriftCauses.Of(Loop, rise);
        var (shift, error) = (Loop.Test.Shift, Loop.Test.ShiftError);
        var direction = shift > 0 ? "warmer" : "colder";
        var (cause, weight) = account.Causes[0];
        var course = account.Gradual > 0.5 ? "slowly" : "at once";
        List<Evidence> evidence =
        [
            new Evidence("shift_kelvins", Math.Round(shift, 2)), new Evidence("shift_standard_error", Math.Round(error, 2)),
            new Evidence("shift_low", Math.Round(shift - (NinetyPercent * error), 2)), new Evidence("shift_high", Math.Round(shift + (NinetyPercent * error), 2)),
            new Evidence("expected", Math.Round(Loop.Measured - shift, 2)), new Evidence("since", account.Since.ToString()),
            new Evidence("gradual_probability", Math.Round(account.Gradual, 2)), new Evidence("cause", DriftCauses.Name(cause)),
        ];
        foreach (var (name, share) in account.Causes)
        {
            if (share >= LeastWeightTold)
                evidence.Add(new Evidence("weight_" + DriftCauses.Name(name).Replace('-', '_'), Math.Round(share, 2)));
        }

        var model = Loop.Model;
        evidence.Add(new Evidence("load", Math.Round(Loop.Work.Load, 3)));
        evidence.Add(new Evidence("ambient_temperature", Math.Round(Loop.Work.Room, 2)));
        evidence.Add(new Evidence("room_coupling", Math.Round(model.RoomCoupling, 2)));
        evidence.Add(new Evidence("hours_learned", Math.Round(model.Learned * CoolantBlocks.Seconds / 3600, 1)));
        if (rise.RatioNow is { } ratio)
            evidence.Add(new Evidence("rise_at_like_load_ratio", Math.Round(ratio, 3)));
        if (Loop.Morning.Moved is { } morning)
            evidence.Add(new Evidence("morning_rest_moved_kelvins", Math.Round(morning, 2)));
        return new Finding(
            Priorities.Of(Condition, Degree.Plain), "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant rests {Math.Abs(shift):0.0} K (± {NinetyPercent * error:0.0} K) {direction} than this machine's own normal at like load and room temperature; it came {course}, most likely by {DriftCauses.Words(cause)} ({100 * weight:0} %)"),
            evidence, [.. account.Causes.Where(c => c.Weight >= 0.1).Select(c => DriftCauses.Check(c.Cause)).Concat(Advice.For(Condition)).Distinct()]);
    }

    public IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        foreach (var channel in new[] { Channel.Canonical[LoopWatch.ChannelOf(reading)], Channel.AmbientTemperature })
        {
            if (reading.Lack(channel) is { } lack)
                lacks.Add(lack);
        }

        if (reading.BeamOn is null)
            lacks.Add($"{Channel.Lasing.Name} or {Channel.TubeCurrent.Name}: the load is not known");
        if (!Loop.IsTaught)
            lacks.Add(string.Create(CultureInfo.InvariantCulture, $"the machine's normal is being learned: {Loop.Model.Learned * CoolantBlocks.Seconds / 3600:0.0} of {LoopWatch.BlocksThatTeach * CoolantBlocks.Seconds / 3600:0} h with the beam in use"));
        else if (Loop.LoadIsKnownOtherwise)
            lacks.Add("the load is known in another way than when the machine's normal was learned: a channel is missing or new");
        return lacks;
    }

    public void Visit(StateVisitor state) => Loop.Visit(state);
}
