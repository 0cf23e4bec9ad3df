namespace LaserWatch.Alarms;

/// <summary>What to check first, most telling and least effort first. Common practice of the trade, no published source.</summary>
/// <remarks>
/// Every piece of advice can be followed without opening the high-voltage side; where that would be needed, it says who may.
/// </remarks>
public static class Advice
{
    private static readonly Dictionary<string, string[]> ByCondition = new(StringComparer.Ordinal)
    {
        [Conditions.AirPressureLow] =
        [
            "Pause the job if the cut no longer goes through",
            "Look along the air hose to the head for a kink, a crushed place or a loose fitting",
            "Compare the regulator's gauge with the job's recorded pressure and set it",
            "See that the compressor or air pump runs and holds its tank pressure",
            "Drain the water trap and look at its filter",
        ],
        [Conditions.AirPressureLost] =
        [
            "Stop the beam now: without air assist the cut can catch fire; stay with the machine",
            "Look for flames or glowing edges before opening the lid",
            "See that the compressor or air pump runs and its valve is open",
            "Look for a hose that has come off or is shut by a kink",
        ],
        [Conditions.AirPathRestricted] =
        [
            "Look into the nozzle for spatter and clean it",
            "Look for a kink between the pressure sensor and the head",
            "Compare the regulator's gauge with the job's recorded pressure",
            "Check the lens for damage: a blocked nozzle lets smoke reach it",
        ],
        [Conditions.WaterTrapDue] =
        [
            "Depressurise the line, drain the water trap and log it (service part water-trap, action drained)",
            "Look at the trap's filter and at the hose after it for water",
            "Drain the compressor's tank too",
        ],
        [Conditions.TubeCurrentSag] =
        [
            "Make a test cut of a proven job: current alone cannot tell lost light from a limited supply",
            "Check that the commanded power really is the job's",
            "Check the coolant temperature and the mains voltage",
            "Check the current sensor's zero with the beam off, and its wiring in the low-voltage return",
            "Compare at low and at high power: a fall only near the top points to a supply at its limit or an ageing tube",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
        [Conditions.TubeCurrentStep] =
        [
            "See what was changed at that time: power settings, wiring, service, mains",
            "Check the current sensor's zero with the beam off, and its connector",
            "Make a test cut of a proven job, and log it: current alone cannot tell lost light from a limited supply",
            "Check the command to the supply and its connector",
            "Measure the mains voltage under load",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
        [Conditions.TubeCurrentHigh] =
        [
            "Lower the power: too much current ages the tube quickly",
            "Check the greatest power set in the controller against the tube's rated current",
            "Check the current sensor's scale and zero",
        ],
        [Conditions.CoolantDrift] =
        [
            "Look at the chiller's set point and alarms, or the radiator's fan and fins for dust",
            "Check the coolant level and look for bubbles",
            "Feel and look for a weak pump or a pinched hose",
            "Compare the sensor with a thermometer in the reservoir",
        ],
        [Conditions.CoolantHot] =
        [
            "Stop cutting and let the pump run until the coolant is back in its range",
            "See that the chiller or the radiator's fan runs and breathes freely",
            "Check the coolant level and flow",
            "Check the room temperature against what the cooling can do",
        ],
        [Conditions.CoolantCold] =
        [
            "Do not strike the tube until the coolant is in its range: cold glass can crack",
            "Check the chiller's set point",
            "Guard against freezing when the shop is unheated",
        ],
        [Conditions.CoolantTimeToLimit] =
        [
            "Plan a pause before the time given",
            "See that the chiller or the radiator's fan runs and breathes freely",
            "Check the coolant level and flow",
        ],
        [Conditions.CoolantFlowLow] =
        [
            "Stop the beam: without flow the tube can be destroyed in seconds",
            "See that the pump runs and the hoses are not pinched",
            "Look for bubbles and check the coolant level",
            "Look for growth or scale in the filter and the flow sensor",
        ],
        [Conditions.CondensationRisk] =
        [
            "Raise the coolant's set point above the dew point and its margin, or dry the room",
            "Look for drops on the tube, its ends and the high-voltage lead before striking; do not touch them",
            "Check the humidity sensor's place: not in the exhaust, not in the sun",
        ],
        [Conditions.TubeLife] =
        [
            "Make a test cut of a proven job and log it: hours and current do not show how much light is left",
            "See in the service log that the tube's installation is entered with its date and serial number",
            "Order a spare now: delivery takes longer than a tube's last weeks, and a spare ages on the shelf too",
            "Look up the warranty's date and terms before it is over",
            "Plan the exchange; the high-voltage side can kill, even switched off: have a qualified person do it",
        ],
        [Conditions.ServiceDue] =
        [
            "Do the work named when the machine next rests; optics with the beam locked out and the machine off",
            "Log it on the machine's service topic or with the service verb: the count then begins anew",
            "Where it was done and not logged, log it with the time it was done",
        ],
        [Conditions.SensorSilent] =
        [
            "Look at the sensor's power and network, and at the broker",
            "Restart the sensor's board",
            "Until it speaks again, watch that quantity by eye",
        ],
        [Conditions.SensorStuck] =
        [
            "Compare the reading with an instrument",
            "Look at the sensor's connector and restart its board",
            "Until it moves again, watch that quantity by eye",
        ],
        [Conditions.SensorImplausible] =
        [
            "Look for a broken wire or a wet connector",
            "Check the unit and the calibration in the configuration",
            "Until it reads true again, watch that quantity by eye",
        ],
    };

    /// <summary>The checks of a condition; for a condition of the shop's own limits, one that fits any.</summary>
    public static IReadOnlyList<string> For(string condition) =>
        ByCondition.TryGetValue(condition, out var checks) ? checks : ["Compare the reading with an instrument", "See what has changed at the machine"];
}
