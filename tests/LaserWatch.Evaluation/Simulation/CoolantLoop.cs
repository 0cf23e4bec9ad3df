namespace LaserWatch.Evaluation.Simulation;

/// <summary>A coolant loop: its water, its pump, and either a radiator with a fan or a chiller with a compressor.</summary>
internal sealed record LoopPlan
{
    public bool Chiller { get; init; }

    public double Litres { get; init; } = 10;

    public double FlowLitresPerMinute { get; init; } = 3;

    /// <summary>Radiator and fan, W/K at full flow.</summary>
    public double RadiatorWattsPerKelvin { get; init; } = 70;

    /// <summary>Heat through the walls of tank and hoses, W/K.</summary>
    public double WallWattsPerKelvin { get; init; } = 4;

    public double PumpWatts { get; init; } = 20;

    public double SetPointCelsius { get; init; } = 20;

    /// <summary>The compressor starts so far above the set point, and stops so far below it, K.</summary>
    public double HysteresisKelvins { get; init; } = 0.5;

    public double CompressorWatts { get; init; } = 900;
}

/// <summary>The heat balance of the loop: what the tube and the pump bring, what radiator, chiller and walls take.</summary>
/// <remarks>One stirred tank; the tube's outlet follows the load within some seconds. Heat capacity 4.18 kJ/(L·K): water near 20 °C.</remarks>
internal sealed class CoolantLoop
{
    private const double JoulesPerLitreKelvin = 4180;
    private const double WattsPerLitreMinuteKelvin = 69.6;
    private const double TubeSeconds = 15;
    private const double BoilingCelsius = 100;
    private const double CourseSeconds = 300;

    /// <summary>Water standing in the tube, litres.</summary>
    private const double TubeLitres = 0.6;

    private readonly LoopPlan _plan;
    private readonly Noise _noise;
    private readonly Straying _flow;
    private bool _compressor;
    private double _rise;
    private double _bubbleLeft;
    private double _meanNetWatts;
    private double _roomCelsius;
    private double _conductance = 1;

    public CoolantLoop(LoopPlan plan, double roomCelsius, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _flow = new Straying(0.01, 300, noise);
        InCelsius = plan.Chiller ? plan.SetPointCelsius : roomCelsius;
    }

    /// <summary>Coolant entering the tube, °C.</summary>
    public double InCelsius { get; private set; }

    /// <summary>Coolant leaving the tube, °C.</summary>
    public double OutCelsius => InCelsius + _rise;

    public double FlowLitresPerMinute { get; private set; }

    /// <summary>How far a steady load settles above the room (radiator), K.</summary>
    public static double RestingRise(LoopPlan plan, double watts, double radiator = 1, double flow = 1) =>
        (watts + plan.PumpWatts) / ((plan.RadiatorWattsPerKelvin * radiator * Math.Pow(flow, 0.3)) + plan.WallWattsPerKelvin);

    public void Step(double seconds, double heatWatts, double roomCelsius, bool switchedOn, Damage damage)
    {
        if (_bubbleLeft > 0)
            _bubbleLeft -= seconds;
        else if (_noise.Chance(damage.AirInLoop * seconds / 8))
            _bubbleLeft = _noise.Exponential(8);
        var share = switchedOn ? Math.Max(damage.Flow, 0) * (_bubbleLeft > 0 ? 0.15 : 1) : 0;
        FlowLitresPerMinute = share <= 0 ? 0 : _plan.FlowLitresPerMinute * share * (1 + _flow.Step(seconds));

        double into;
        if (FlowLitresPerMinute > 0.05)
        {
            var goal = heatWatts / (WattsPerLitreMinuteKelvin * FlowLitresPerMinute);
            _rise += (goal - _rise) * (1 - Math.Exp(-seconds / TubeSeconds));
            into = (_rise * WattsPerLitreMinuteKelvin * FlowLitresPerMinute) + _plan.PumpWatts;
        }
        else
        {
            // The water stands in the tube and takes the heat there; glass and air take some of it away.
            _rise += seconds * ((heatWatts / (TubeLitres * JoulesPerLitreKelvin)) - (_rise / 900));
            _rise = Math.Min(_rise, BoilingCelsius - InCelsius);
            into = 0;
        }

        var capacity = _plan.Litres * JoulesPerLitreKelvin;
        var conductance = _plan.WallWattsPerKelvin;
        if (!_plan.Chiller && share > 0)
            conductance += _plan.RadiatorWattsPerKelvin * damage.Radiator * Math.Pow(share, 0.3);
        var taken = Cooling(switchedOn && share > 0, roomCelsius, damage);
        _meanNetWatts += (into - taken - _meanNetWatts) * (1 - Math.Exp(-seconds / CourseSeconds));
        (_roomCelsius, _conductance) = (roomCelsius, conductance);
        // Exact for the step, so that a minute of the night may be one.
        var rest = roomCelsius + ((into - taken) / conductance);
        InCelsius = rest + ((InCelsius - rest) * Math.Exp(-seconds * conductance / capacity));
    }

    /// <summary>When the water reaches a warmer limit if the last minutes' load goes on, s; infinite where it never does.</summary>
    public double SecondsTo(double limitCelsius)
    {
        var rest = _roomCelsius + (_meanNetWatts / _conductance);
        if (InCelsius >= limitCelsius)
            return 0;
        return rest <= limitCelsius ? double.PositiveInfinity
            : _plan.Litres * JoulesPerLitreKelvin / _conductance * Math.Log((rest - InCelsius) / (rest - limitCelsius));
    }

    private double Cooling(bool running, double roomCelsius, Damage damage)
    {
        if (!_plan.Chiller || !running || damage.ChillerDead)
        {
            _compressor = false;
            return 0;
        }

        var setPoint = _plan.SetPointCelsius + damage.SetPoint;
        if (InCelsius > setPoint + _plan.HysteresisKelvins)
            _compressor = true;
        else if (InCelsius < setPoint - _plan.HysteresisKelvins)
            _compressor = false;
        // A compressor moves less heat into a hotter room; dirt on its condenser is the radiator's fault.
        return _compressor ? _plan.CompressorWatts * damage.Radiator * (1 - (0.012 * Math.Max(roomCelsius - 25, 0))) : 0;
    }
}
