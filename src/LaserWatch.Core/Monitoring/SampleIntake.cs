using LaserWatch.Models;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>Admits samples by the order of their channel, and folds those that can be believed into the reading.</summary>
/// <param name="beamOnMilliamps">Current that counts as beam on, where no lasing signal is wired.</param>
internal sealed class SampleIntake(Reading reading, SampleOrder order, MachineModels models, double beamOnMilliamps)
{
    private long _late;
    private long _duplicates;

    public long Late => _late;

    public long Duplicates => _duplicates;

    /// <summary>Takes values of one instant; returns the channels that the reading has anew.</summary>
    public ChannelSet Take(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        var fresh = default(ChannelSet);
        var beamOn = reading.BeamOn == true;
        foreach (ref readonly var one in values)
        {
            switch (order.Admit(one.Channel.Index, at, one.Value))
            {
                case Admission.Fresh when Fold(one.Channel, at, one.Value, beamOn):
                    fresh = fresh.With(one.Channel);
                    break;
                case Admission.Duplicate:
                    _duplicates++;
                    break;
                case Admission.TooLate:
                    _late++;
                    break;
            }
        }

        if (at > reading.At)
            reading.At = at;
        reading.QuietSeconds = 0;
        FollowBeam(fresh, at);
        models.Ledger.Follow(at, SeesBeam);
        (reading.Fresh, reading.FreshAt) = (fresh, at);
        return fresh;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _late);
        state.Walk(ref _duplicates);
    }

    private bool Fold(Channel channel, Instant at, double value, bool beamOn)
    {
        if (!channel.IsCanonical)
        {
            reading.SetOther(channel, at, value);
            return true;
        }

        var index = channel.Index;
        var beamSeconds = beamOn && reading.Knows(index) ? SensorHabits.SecondsLit(at.SecondsSince(reading.TimeOf(index))) : 0;
        if (!models.Sensors.Observe(reading, index, at, value, beamSeconds))
            return false;
        reading.Set(index, at, value);
        if (index == CanonicalIndex.Runtime)
            models.Ledger.ReadMeter(at, value);
        return true;
    }

    private bool CurrentShowsBeam => reading[CanonicalIndex.TubeCurrent] > beamOnMilliamps;

    private bool SeesBeam => reading.Has(CanonicalIndex.Lasing) ? reading.BeamOn == true : reading.Has(CanonicalIndex.TubeCurrent) && CurrentShowsBeam;

    private void FollowBeam(ChannelSet fresh, Instant at)
    {
        var on = reading.BeamOn;
        if (fresh.Has(Channel.Lasing))
            on = reading[CanonicalIndex.Lasing] >= 0.5;
        else if (fresh.Has(Channel.TubeCurrent) && !reading.Knows(CanonicalIndex.Lasing))
            on = CurrentShowsBeam;
        if (on != reading.BeamOn)
            (reading.BeamOn, reading.BeamSince) = (on, at);
        if (on == true && (reading.BeamLastOn is null || at > reading.BeamLastOn))
            reading.BeamLastOn = at;
    }
}
