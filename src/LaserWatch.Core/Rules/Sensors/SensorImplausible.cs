using LaserWatch.Alarms;
using LaserWatch.Models;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string SensorImplausible = "sensor-implausible";
}

/// <summary>A channel reads what its instrument cannot say.</summary>
internal sealed class SensorImplausible(SensorHabits sensors) : SensorFault(ChannelFault.Implausible, sensors, About)
{
    public static readonly RuleSheet About = new(Conditions.SensorImplausible)
    {
        Judged = "A channel reads what its instrument cannot say.",
        Triggers = EveryChannel,
        Weights =
        [
            new(Degree.Plain, Consequence.Scrap, TimeToRespond.Hours, "rules are blind"),
        ],
        Checks =
        [
            "Machine off: look for a broken wire or a wet connector",
            "Check the unit and the calibration in the configuration",
            "Until it reads true again, watch that quantity by eye",
        ],
    };
}
