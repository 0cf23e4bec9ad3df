using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>During a run, with the beam on, air assist is practically gone: a fire hazard, told at the second sample.</summary>
internal sealed class AirPressureLost(AirLine air, AirPressureOptions options) : IDetector
{
    private const int SamplesThatMakeIt = 2;
    private const double PatienceWhenRisingSeconds = 4;

    private int _below;
    private bool _breach;
    private Instant? _goodSince;

    public string Condition => Conditions.AirPressureLost;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.AirPressure) | ChannelSet.RunChange;

    public Verdict Update(Reading reading)
    {
        Follow(reading);
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading)
    {
        if (reading.Run is null || air.LostBelow is not { } limit)
        {
            if (reading.Run is not null && !reading.Has(CanonicalIndex.AirPressure))
                return false;
            _below = 0;
            _breach = false;
            _goodSince = null;
            return false;
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

        return _breach;
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        if (reading.Run is null || air.LostBelow is not { } limit)
            return reading.Run is not null && !reading.Has(CanonicalIndex.AirPressure) ? default : new Verdict(Judgement.Irrelevant);
        return new Verdict(_breach ? Judgement.Breach : Judgement.Normal, reading[CanonicalIndex.AirPressure], limit);
    }

    public Finding Explain(Reading reading, Verdict verdict) => verdict.Judgement == Judgement.Breach
        ? new Finding(
            Priorities.Of(Condition, Degree.Plain),
            Channel.AirPressure.Unit,
            string.Create(CultureInfo.InvariantCulture, $"air assist is gone: {verdict.Value:0.0} kPa with the beam on; fire hazard"),
            air.Recorded is { } recorded ? [new Evidence("recorded", recorded)] : [],
            Advice.For(Condition))
        : new Finding(Priorities.Of(Condition, Degree.Plain), Channel.AirPressure.Unit, reading.Run is null ? "the run is over" : "air assist is back", [], []);

    public IReadOnlyList<string> Lacks(Reading reading) => reading.Lack(Channel.AirPressure) is { } lack ? [lack]
        : reading.Run is not null && air.LostBelow is null ? ["no pressure is recorded for the job, and no floor is configured"]
        : [];

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _below);
        state.Walk(ref _breach);
        state.Walk(ref _goodSince);
    }
}
