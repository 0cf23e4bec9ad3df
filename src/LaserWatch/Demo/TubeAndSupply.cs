namespace LaserWatch.Demo;

/// <summary>A glass tube on its high-voltage supply.</summary>
/// <remarks>
/// The supply holds the current that the command asks for, until it stands at its voltage limit: the current it can then still
/// drive is the room that an ageing tube, which needs ever more voltage, takes away from it. So age shows at high commands
/// first. The line of current against command does not pass through the origin; below about a quarter of full command the
/// current comes in pulses.
/// </remarks>
/// <param name="limitWhenNew">Current at the voltage limit with a new tube, mA.</param>
/// <param name="mainsDeviation">Of the voltage limit, as a fraction.</param>
public sealed class TubeAndSupply(SeededNoise noise, double limitWhenNew, double mainsDeviation)
{
    private readonly Wander _mains = new(noise, TimeSpan.FromMinutes(25));
    private readonly Wander _warmth = new(noise, TimeSpan.FromMinutes(8));

    /// <summary>What age has taken from the current at the voltage limit, as a fraction.</summary>
    public double Age { get; set; }

    /// <summary>The same, by a fault that ages the tube before its time.</summary>
    public double ExtraAge { get; set; }

    /// <summary>What a fault of the supply takes from all currents, as a fraction.</summary>
    public double SupplyLoss { get; set; }

    /// <summary>Beam-on time, hours.</summary>
    public double BeamHours { get; private set; }

    /// <summary>Tube current, mA.</summary>
    public double Current { get; private set; }

    /// <summary>Heat into the coolant, W.</summary>
    public double Heat { get; private set; }

    /// <summary>The current a command gives with a new tube and no wander, mA.</summary>
    public static double Nominal(double powerPercent) => powerPercent < 8 ? 0 : 2.69 + (0.235 * powerPercent);

    /// <param name="power">Commanded power in percent.</param>
    /// <param name="flow">The part of full current that flows at the end of the step, 0 to 1.</param>
    /// <param name="duty">The part of the step that the beam was on, 0 to 1.</param>
    public void Step(double seconds, double power, double flow, double duty)
    {
        _mains.Step(seconds);
        _warmth.Step(seconds);
        var asked = Nominal(power);
        var limit = limitWhenNew * (1 - Age) * (1 - ExtraAge) * (1 + (mainsDeviation * _mains.Value));
        // A soft corner: the supply leaves regulation little by little.
        var current = asked <= 0 ? 0 : asked / Math.Pow(1 + Math.Pow(asked / limit, 10), 0.1);
        current *= (1 - SupplyLoss) * (1 + (0.003 * _mains.Value) + (0.003 * _warmth.Value));
        if (power < 27)
            current *= 1 + (0.35 * noise.Normal());
        Current = Math.Max(0, current * flow * (1 + (0.006 * noise.Normal())));
        BeamHours += duty * seconds / 3600;

        // Some 17 kV across the tube; about an eighth of the power leaves as light.
        Heat = current * duty * 17 * 0.87;
    }
}
