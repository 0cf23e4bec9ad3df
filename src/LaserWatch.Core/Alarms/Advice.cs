using LaserWatch.Rules;

namespace LaserWatch.Alarms;

/// <summary>What to check first, most telling and least effort first. Common practice of the trade, no published source.</summary>
/// <remarks>
/// Each line goes out by MQTT, mail and webhook and may be read alone, so each is safe alone: it names its own caution, and what touches
/// mains, the high-voltage side or the supply is a qualified person's work.
/// </remarks>
public static class Advice
{
    private static readonly Dictionary<string, string[]> ByCondition = new(StringComparer.Ordinal)
    {
        [Conditions.AirPressureLow] =
        [
            "Pause the job if the cut no longer goes through; stay with the machine",
            "Beam and motors off: look along the air hose to the head for a kink, a crushed place or a loose fitting; let the pressure off before you mend it",
            "Compare the regulator's gauge with the job's recorded pressure and set it",
            "See, without touching, that the compressor or air pump runs and holds its tank pressure; it can start by itself",
            "Let the pressure off, then drain the water trap and look at its filter",
        ],
        [Conditions.AirPressureLost] =
        [
            "Stop the beam now: without air assist the cut can catch fire; stay with the machine",
            "Look for flames or glowing edges before you open the lid; keep it shut while anything glows",
            "See, without touching, that the compressor or air pump runs and its valve is open; it can start by itself",
            "Beam and motors off: look for a hose that has come off or is shut by a kink; let the pressure off before you put it back",
        ],
        [Conditions.AirPathRestricted] =
        [
            "After the job, with the beam locked out, the interlock open, the head parked and cool, and the extraction run on: look into the nozzle for spatter and clean it",
            "Beam and motors off: look for a kink between the pressure sensor and the head",
            "Compare the regulator's gauge with the job's recorded pressure",
            "Machine off and lens cold: check the lens for damage; a blocked nozzle lets smoke reach it",
        ],
        [Conditions.WaterTrapDue] =
        [
            "Let the pressure off, drain the water trap and log it (service part water-trap, action drained)",
            "With the pressure off, look at the trap's filter and at the hose after it for water",
            "Drain the compressor's tank too, unplugged and with its pressure let off as its manual says; it can start by itself",
        ],
        [Conditions.TubeCurrentSag] =
        [
            "Make a test cut of a proven job, with the extraction on, and stay with the machine: current alone cannot tell lost light from a supply at its limit",
            "Check that the commanded power really is the job's",
            "Read the coolant temperature; have a qualified person measure the mains voltage under load",
            "With the beam off, read the current sensor's zero; have a qualified person check its wiring in the low-voltage return",
            "Compare the stored currents at low and at high power: a fall only near the top points to a supply at its limit or an ageing tube",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
        [Conditions.TubeCurrentStep] =
        [
            "See in the service log what was changed at that time: power settings, wiring, parts",
            "With the beam off, read the current sensor's zero; have a qualified person check its connector",
            "Make a test cut of a proven job, with the extraction on, stay with the machine, and log it: current alone cannot tell lost light from a supply at its limit",
            "Have a qualified person check the command to the supply and its connector",
            "Have a qualified person measure the mains voltage under load",
            "Have a qualified person test the supply; the high-voltage side can kill, even switched off",
        ],
        [Conditions.TubeCurrentHigh] =
        [
            "Lower the power: too much current ages the tube quickly",
            "Compare the highest power set at the controller with the tube's rated current",
            "Check the current sensor's scale in the configuration, and its zero with the beam off",
        ],
        [Conditions.CoolantDrift] =
        [
            "Look at the chiller's set point and alarms; with the fan switched off and cool, at its fins for dust",
            "Look at the coolant level, and for bubbles; do not touch tube or hoses near the high-voltage end",
            "Listen for a weak pump and look for a pinched hose; do not touch tube or hoses near the high-voltage end",
            "With the beam off, compare the sensor with a thermometer in the reservoir",
        ],
        [Conditions.CoolantHot] =
        [
            "Stop cutting and let the pump run until the coolant is back in its range",
            "See, without touching, that the chiller or the radiator's fan runs and breathes freely; switch it off before you clean it",
            "Look at the coolant level and the return jet; do not touch tube or hoses near the high-voltage end",
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
            "See, without touching, that the chiller or the radiator's fan runs and breathes freely; switch it off before you clean it",
            "Look at the coolant level and the return jet; do not touch tube or hoses near the high-voltage end",
        ],
        [Conditions.CoolantFlowLow] =
        [
            "Stop the beam: without flow the tube can be destroyed in seconds",
            "See that the pump runs and no hose is pinched; do not touch tube or hoses near the high-voltage end",
            "Look for bubbles and at the coolant level; do not touch the tube",
            "Machine off and pump unplugged: look for growth or scale in the filter and the flow sensor",
        ],
        [Conditions.CondensationRisk] =
        [
            "Raise the coolant's set point above the dew point and its margin, or dry the room",
            "Machine off, covers on: look for drops on the tube and the high-voltage lead before it is fired again; do not touch them",
            "Check the humidity sensor's place: not in the exhaust, not in the sun",
        ],
        [Conditions.TubeLife] =
        [
            "Make a test cut of a proven job, with the extraction on, stay with the machine, and log it: hours and current do not show how much light is left",
            "See in the service log that the tube's installation is entered with its date and serial number",
            "Order a spare now: delivery takes longer than a tube's last weeks, and a spare ages on the shelf too",
            "Look up the warranty's date and terms before it is over",
            "Plan the exchange by a qualified person; the high-voltage side can kill, even switched off",
        ],
        [Conditions.ServiceDue] =
        [
            "Do the work named when the machine next rests, switched off and locked; let the pressure off before an air line is opened; tube, supply and mains are a qualified person's work",
            "Log it on the machine's service topic or with the service verb: the count then begins anew",
            "Where it was done and not logged, log it with the time it was done",
        ],
        [Conditions.SensorSilent] =
        [
            "Look at the sensor's power and network outside the machine, and at the broker",
            "Restart the sensor's board",
            "Until it speaks again, watch that quantity by eye",
        ],
        [Conditions.SensorStuck] =
        [
            "Compare the reading with an instrument; the tube current only by a qualified person, in the low-voltage return",
            "Machine off: look at the sensor's connector; then restart its board",
            "Until it moves again, watch that quantity by eye",
        ],
        [Conditions.SensorImplausible] =
        [
            "Machine off: look for a broken wire or a wet connector",
            "Check the unit and the calibration in the configuration",
            "Until it reads true again, watch that quantity by eye",
        ],
    };

    /// <summary>The checks of a condition; for a condition of the shop's own limits, one that fits any.</summary>
    public static IReadOnlyList<string> For(string condition) =>
        ByCondition.TryGetValue(condition, out var checks) ? checks : ["Compare the reading with an instrument; the tube current only by a qualified person, in the low-voltage return", "See what has changed at the machine"];
}
