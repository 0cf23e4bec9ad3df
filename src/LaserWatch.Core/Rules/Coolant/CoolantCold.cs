using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string CoolantCold = "coolant-cold";
}

/// <summary>The coolant is below its working limit: cold glass can crack, and water condenses.</summary>
internal sealed class CoolantCold(CoolantOptions options) : CoolantLimit(options, hot: false, About)
{
    public static readonly RuleSheet About = new(Conditions.CoolantCold)
    {
        Judged = "The coolant is below 5 °C for 20 s.",
        Triggers = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut),
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Hours, "thermal stress, and dew"),
        ],
        Checks =
        [
            "Do not strike the tube until the coolant is in its range: cold glass can crack",
            "Check the chiller's set point",
            "Guard against freezing when the shop is unheated",
        ],
    };
}
