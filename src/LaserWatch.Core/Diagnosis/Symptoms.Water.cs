using LaserWatch.Alarms;
using LaserWatch.Physics;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Diagnosis;

/// <content>The coolant and the room.</content>
public sealed partial class Symptoms
{
    private const double HumidPercent = 62;

    private void CoolantTemperature(Channel channel)
    {
        if (Value(channel, inRunOnly: false) is not { } look)
            return;
        var (warm, cold) = Warmth(look);
        Compare(channel, look, null, look.Usual, cold, warm, percent: false);
    }

    private void Coolant()
    {
        var look = Value(Channel.CoolantIn, inRunOnly: false) ?? Value(Channel.CoolantOut, inRunOnly: false);
        if (look is not { } known)
        {
            Miss(Channel.CoolantIn, "warm coolant and condensation");
            return;
        }

        var (warm, cold) = Warmth(known);
        var drift = Raised(Conditions.CoolantDrift) ? _machine.Alarm(Conditions.CoolantDrift)!.Raised : null;
        if (Raised(Conditions.CoolantHot) || Raised(Conditions.CoolantTimeToLimit) || (drift is not null && !(drift.Value < drift.Limit)))
            warm = Sure;
        if (Raised(Conditions.CoolantCold) || (drift is not null && drift.Value < drift.Limit))
            cold = Sure;
        Observe("coolant-temperature", ("coolant-warm", warm), ("coolant-cold", cold), Text($"coolant {known.Value:0.0} °C"));
        Condensation(known.Value);
    }

    private (double Warm, double Cold) Warmth((double Value, bool InRun, double? Usual) look)
    {
        var rules = _machine.Rules.Coolant;
        var warm = Beyond(look.Value, rules.HotCelsius - 2, 1);
        if (look.Usual is { } usual)
            warm = Math.Max(warm, 0.8 * Beyond(look.Value - usual, 1.5 * rules.LeastDriftKelvins, 1)); // a hot day does the same
        return (warm, Beyond(-look.Value, -rules.ColdCelsius - 3, 1));
    }

    private void Condensation(double coolant)
    {
        var (air, humidity) = (Value(Channel.AmbientTemperature, inRunOnly: false), Value(Channel.AmbientHumidity, inRunOnly: false));
        if (air is not { } room || humidity is not { Value: > 0 } moist)
        {
            if (Raised(Conditions.CondensationRisk))
                Observe("dew-margin", ("near-dew-point", Sure), ("", 0), "the coolant was too near the room's dew point");
            return;
        }

        var margin = coolant - DewPoint.FromRelativeHumidity(room.Value, Math.Min(moist.Value, 100));
        var wet = Raised(Conditions.CondensationRisk) ? Sure : Beyond(-margin, -_machine.Rules.Coolant.DewPointMarginKelvins, 0.7);
        Observe("dew-margin", ("near-dew-point", wet), ("", 0), Text($"coolant {margin:0.0} K above the room's dew point"));
    }

    private void CoolantFlow()
    {
        if (Value(Channel.CoolantFlow, inRunOnly: true) is not { } look)
        {
            // Without a flow meter the alarm is the heat balance's word.
            if (Raised(Conditions.CoolantFlowLow))
                Observe("coolant-flow", ("coolant-flow-low", Sure), ("", 0), "by the heat balance the coolant's flow is low");
            Miss(Channel.CoolantFlow, "a weak pump or a pinched hose");
            return;
        }

        var rules = _machine.Rules.Coolant;
        var low = Raised(Conditions.CoolantFlowLow) ? Sure : 0;
        if (look.Usual is > 0)
            low = Math.Max(low, Beyond((look.Usual.Value - look.Value) / look.Usual.Value, 0.6 * rules.FlowTolerance, 0.2 * rules.FlowTolerance));
        if (rules.LeastFlowLitresPerMinute is { } least)
            low = Math.Max(low, Beyond(-look.Value / least, -1.05, 0.05));
        if (look.Usual is > 0 || rules.LeastFlowLitresPerMinute is not null || low > 0)
            Observe("coolant-flow", ("coolant-flow-low", low), ("", 0), Says(Channel.CoolantFlow, look.Value, look.Usual, recorded: false));
        Compare(Channel.CoolantFlow, look, null, look.Usual ?? rules.LeastFlowLitresPerMinute, low, 0, percent: true);
    }

    private void Room()
    {
        if (Value(Channel.AmbientTemperature, inRunOnly: false) is { } temperature)
            Compare(Channel.AmbientTemperature, temperature, null, null, 0, 0, percent: false);
        if (Value(Channel.AmbientHumidity, inRunOnly: false) is not { } look)
        {
            Miss(Channel.AmbientHumidity, "damp material and condensation");
            return;
        }

        var humid = Beyond(look.Value, HumidPercent, 6);
        Observe("room-humidity", ("room-humid", humid), ("", 0), Text($"room at {look.Value:0} %RH"));
        Compare(Channel.AmbientHumidity, look, null, null, 0, humid, percent: false);
    }
}
