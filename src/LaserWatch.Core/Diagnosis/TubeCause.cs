namespace LaserWatch.Diagnosis;

/// <summary>Why the tube's current may have fallen at fixed power.</summary>
public enum TubeCause
{
    AgeingTube,
    FailingSupply,
    SensorOrWiring,
    CommandPath,
    LowMains,
    HotCoolant,
    HighVoltageLeakage,
}

/// <summary>A cause, how likely it is against the others, and the observation that would tell it from them.</summary>
/// <param name="Weight">Between 0 and 1; the weights of all causes sum to 1.</param>
public readonly record struct RankedTubeCause(TubeCause Cause, double Weight)
{
    /// <summary>Name in evidence and on paper.</summary>
    public string Name => Cause switch
    {
        TubeCause.AgeingTube => "ageing-tube",
        TubeCause.FailingSupply => "failing-supply",
        TubeCause.SensorOrWiring => "sensor-or-wiring",
        TubeCause.CommandPath => "command-path",
        TubeCause.LowMains => "low-mains",
        TubeCause.HotCoolant => "hot-coolant",
        _ => "high-voltage-leakage",
    };

    /// <summary>What would confirm or clear the cause. Derived from a current-regulated supply and a tube of negative resistance; common practice, no published source.</summary>
    public string TellApart => Cause switch
    {
        TubeCause.AgeingTube => "a qualified person runs the supply on a dummy load: full current there, and the tube is at fault; a test cut shows the light that is lost, as does a power probe in the hands of somebody who was taught it",
        TubeCause.FailingSupply => "a qualified person runs the supply on a dummy load or exchanges it: low current there too, and the supply is at fault",
        TubeCause.SensorOrWiring => "with the beam off the reading must be zero; a reference meter in the low-voltage return, fitted by a qualified person, must agree; a proven job still cuts",
        TubeCause.CommandPath => "a qualified person measures the command at the supply's low-voltage input and compares it with what the controller was told",
        TubeCause.LowMains => "a qualified person measures the mains voltage while the beam is on at full power, at the hour of the fall",
        TubeCause.HotCoolant => "let the coolant return to its usual temperature: the current returns with it",
        _ => "a qualified person looks for tracks and damp along the high-voltage lead, with the machine off and discharged; the fall follows humid days",
    };
}
