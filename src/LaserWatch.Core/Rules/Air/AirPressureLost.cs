using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string AirPressureLost = "air-pressure-lost";
}

/// <summary>During a run, with the beam on, air assist is practically gone: a fire hazard, told at the second sample.</summary>
internal sealed class AirPressureLost(AirLine air, AirPressureOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.AirPressureLost)
    {
        Judged = "The pressure is below a quarter of the recorded one, or below a floor of your own, at the second sample. Fire hazard.",
        Triggers = ChannelSet.Of(Channel.AirPressure) | ChannelSet.RunChange,
        Latches = true,
        Weights =
        [
            new(Degree.Plain, Consequence.Harm, TimeToRespond.Seconds, "without air assist the cut can catch fire"),
        ],
        Checks =
        [
            "Stop the beam now: without air assist the cut can catch fire; stay with the machine",
            "Look for flames or glowing edges before you open the lid; keep it shut while anything glows",
            "See, without touching, that the compressor or air pump runs and its valve is open; it can start by itself",
            "Beam and motors off: look for a hose that has come off or is shut by a kink; let the pressure off before you put it back",
        ],
    };

    private const int SamplesThatMakeIt = 2;
    private const double PatienceWhenRisingSeconds = 4;

    private int _below;
    private bool _breach;
    private Instant? _goodSince;

    public override Verdict Update(Reading reading)
    {
        if (reading.Run is null || air.LostBelow is not { } limit)
        {
            if (reading.Run is not null && !reading.Has(CanonicalIndex.AirPressure))
                return default;
            _below = 0;
            _breach = false;
            _goodSince = null;
            return new Verdict(Judgement.Irrelevant);
        }

        var pressure = reading[CanonicalIndex.AirPressure];
        if (reading.IsFresh(CanonicalIndex.AirPressure))
        {
            var at = reading.TimeOf(CanonicalIndex.AirPressure);
            var waitedFor = air.IsFilling || (air.IsRising && air.RisingSeconds < PatienceWhenRisingSeconds);
            if (pressure < limit && reading.BeamOn != false && !waitedFor)
            {
                _goodSince = null;
                if (++_below >= SamplesThatMakeIt)
                    _breach = true;
            }
            else if (pressure >= limit)
            {
                _below = 0;
                _goodSince ??= at;
                if (at.SecondsSince(_goodSince.Value) >= options.OffDelaySeconds)
                    _breach = false;
            }
            else if (!_breach && !(reading.Run.IsRaster && reading.BeamOn == false))
            {
                _below = 0;
            }
        }

        return new Verdict(_breach ? Judgement.Breach : Judgement.Normal, pressure, limit);
    }

    public override Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            PriorityOf(Degree.Plain),
            Channel.AirPressure.Unit,
            string.Create(CultureInfo.InvariantCulture, $"air assist is gone: {verdict.Value:0.0} kPa with the beam on; fire hazard"),
            air.Recorded is { } recorded ? [new Evidence("recorded", recorded)] : [],
            Checks)
        : new Finding(PriorityOf(Degree.Plain), Channel.AirPressure.Unit, reading.Run is null ? "the run is over" : "air assist is back", [], []);

    public override IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.AirPressure) is { } lack ? [lack]
        : reading.Run is not null && air.LostBelow is null ? ["no pressure is recorded for the job, and no floor is configured"]
        : [];

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _below);
        state.Walk(ref _breach);
        state.Walk(ref _goodSince);
    }
}
