namespace LaserWatch.Evaluation.Simulation;

/// <summary>A glass tube and its supply. Figures of a kind seen in the trade (common practice, no published source).</summary>
internal sealed record TubePlan
{
    /// <summary>Current at full command, mA.</summary>
    public double FullMilliamps { get; init; } = 26;

    /// <summary>Share of the full current at which the curve would meet a command of nothing: it does not pass through the origin.</summary>
    public double Foot { get; init; } = 0.06;

    /// <summary>How much the curve bends; larger bends more.</summary>
    public double Bend { get; init; } = 0.7;

    /// <summary>Current the supply can drive at its voltage limit, beside the full current. 1.3: it regulates; below 1.05 the top of the curve clips.</summary>
    public double Headroom { get; init; } = 1.3;

    /// <summary>Running voltage, kV.</summary>
    public double Kilovolts { get; init; } = 17;

    /// <summary>Light beside electrical power.</summary>
    public double Efficiency { get; init; } = 0.16;

    /// <summary>Standard deviation of the current as the mains strays over hours, as a fraction.</summary>
    public double SlowStraying { get; init; } = 0.004;

    /// <summary>The same over a minute.</summary>
    public double FastStraying { get; init; } = 0.0015;

    /// <summary>Extra current of a cold tube, as a fraction; it is gone after some minutes of beam.</summary>
    public double ColdExcess { get; init; } = 0.01;

    /// <summary>Fraction of the current lost a kelvin of coolant above 20 °C.</summary>
    public double LossPerKelvin { get; init; } = 0.0006;
}

/// <summary>Current, heat and warmth of the tube.</summary>
/// <remarks>
/// Below its voltage limit the supply holds the current that the command asks for; near it the current bends over smoothly. So a
/// limit that falls takes the highest commands first, and a fault of the command or of the regulation takes all alike.
/// </remarks>
internal sealed class Tube
{
    private const double ClipSharpness = 14;
    private const double WarmUpSeconds = 240;
    private const double CoolDownSeconds = 600;

    /// <summary>Below this command the current comes in pulses (common practice).</summary>
    private const double PulsesBelow = 0.28;

    private readonly TubePlan _plan;
    private readonly Noise _noise;
    private readonly Straying _slow;
    private readonly Straying _fast;
    private double _warmth;
    private double _command = double.NaN;
    private double _supply;
    private double _limit;
    private double _steady;

    public Tube(TubePlan plan, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _slow = new Straying(plan.SlowStraying, 7200, noise);
        _fast = new Straying(plan.FastStraying, 40, noise);
    }

    /// <summary>Mean current while the beam is on, mA, at the present command.</summary>
    public double Milliamps { get; private set; }

    /// <summary>Heat into the coolant while the beam is on, W.</summary>
    public double HeatWatts { get; private set; }

    public bool ComesInPulses { get; private set; }

    /// <summary>The current that a command drives, mA, before straying, warmth and coolant.</summary>
    /// <param name="command">0 to 1.</param>
    public static double SteadyMilliamps(TubePlan plan, double command, double supply, double limit)
    {
        var curve = (1 - Math.Exp(-plan.Bend * command)) / (1 - Math.Exp(-plan.Bend));
        var asked = plan.FullMilliamps * (plan.Foot + ((1 - plan.Foot) * curve)) * supply;
        var most = plan.FullMilliamps * plan.Headroom * limit;
        return asked / Math.Pow(1 + Math.Pow(asked / most, ClipSharpness), 1 / ClipSharpness);
    }

    /// <summary>Called once a minute: what changes slowly.</summary>
    public void PassMinute(double seconds) => _slow.Step(seconds);

    public void Step(double seconds, double command, bool beamOn, double coolantCelsius, Damage damage)
    {
        var goal = beamOn ? 1.0 : 0.0;
        _warmth += (goal - _warmth) * (1 - Math.Exp(-seconds / (beamOn ? WarmUpSeconds : CoolDownSeconds)));
        if (!beamOn)
            return;
        var arriving = command * damage.Command;
        if (arriving != _command || damage.Supply != _supply || damage.Limit != _limit)
        {
            (_command, _supply, _limit) = (arriving, damage.Supply, damage.Limit);
            _steady = SteadyMilliamps(_plan, arriving, damage.Supply, damage.Limit);
        }

        ComesInPulses = command < PulsesBelow;
        Milliamps = _steady * (1 + _slow.Value + _fast.Step(seconds)) * (1 + (_plan.ColdExcess * (1 - _warmth)))
            * (1 - (_plan.LossPerKelvin * (coolantCelsius - 20)));
        var electrical = _plan.Kilovolts * Milliamps;
        HeatWatts = electrical * (1 - (_plan.Efficiency * damage.Light));
    }

    /// <summary>What an averaging sensor in the return sees of pulses, as a factor of the mean.</summary>
    public double PulseFactor() => _noise.LogNormal(0.8, 0.6);
}
