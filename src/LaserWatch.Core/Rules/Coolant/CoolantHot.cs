using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CoolantHot = "coolant-hot";
}

/// <summary>The coolant is above its working limit: a hot tube gives less light, ages fast, and may crack.</summary>
internal sealed class CoolantHot(CoolantOptions options) : CoolantLimit(options, hot: true, About)
{
    public static readonly RuleSheet About = new(Conditions.CoolantHot)
    {
        Judged = "The coolant is above 30 °C for 20 s.",
        Triggers = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Minutes, "a hot tube ages fast and may crack"),
        ],
        ExplainedBy =
        [
            new(Conditions.CoolantFlowLow, false, "less flow warms the coolant"),
        ],
        Checks =
        [
            "Stop cutting and let the pump run until the coolant is back in its range",
            "See, without touching, that the chiller or the radiator's fan runs and breathes freely; switch it off before you clean it",
            "Look at the coolant level and the return jet; do not touch tube or hoses near the high-voltage end",
            "Check the room temperature against what the cooling can do",
        ],
    };
}
