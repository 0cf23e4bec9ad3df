namespace LaserWatch.Demo;

public enum CoolerKind
{
    /// <summary>A radiator with a fan: the coolant stays above the room.</summary>
    Radiator,

    /// <summary>A chiller that switches on and off about its setting.</summary>
    Chiller,
}

/// <summary>Tank, pump, tube jacket and cooler: one heat store that the tube warms and the cooler cools.</summary>
public sealed class CoolantLoop(SeededNoise noise, CoolerKind cooler)
{
    private const double WaterJoulePerKelvinLitre = 4180;
    private const double TankLitres = 9;
    private const double JacketLitres = 0.45;
    private const double PumpHeat = 18;
    private const double LossToRoom = 5; // W/K, tank and hoses
    private const double RadiatorWattPerKelvin = 62;
    private const double ChillerWatt = 850;
    private const double ChillerBand = 0.5;

    private readonly Wander _flowWander = new(noise, TimeSpan.FromMinutes(3));
    private bool _chilling;

    /// <summary>Where the chiller is set, °C.</summary>
    public double ChillerSetting { get; set; } = 20;

    /// <summary>What is left of the cooler's power; 1 is a clean cooler.</summary>
    public double CoolerOpen { get; set; } = 1;

    /// <summary>What is left of the pump's flow; 1 is a sound pump.</summary>
    public double PumpStrength { get; set; } = 1;

    /// <summary>Coolant entering the tube, °C.</summary>
    public double In { get; private set; } = 20;

    /// <summary>Coolant leaving the tube, °C.</summary>
    public double Out { get; private set; } = 20;

    /// <summary>L/min.</summary>
    public double Flow { get; private set; }

    public void Step(double seconds, double heat, double room, bool running)
    {
        _flowWander.Step(seconds);
        Flow = running ? Math.Max(0, 2.6 * PumpStrength * (1 + (0.012 * _flowWander.Value))) : 0;

        var removed = 0.0;
        if (running && cooler == CoolerKind.Radiator)
        {
            removed = RadiatorWattPerKelvin * CoolerOpen * (In - room);
        }
        else if (running)
        {
            _chilling = In > ChillerSetting + ChillerBand || (_chilling && In > ChillerSetting - ChillerBand);
            removed = _chilling ? ChillerWatt * CoolerOpen : 0;
        }

        var into = heat + (running ? PumpHeat : 0) + (LossToRoom * (room - In)) - removed;
        var change = into * seconds / (TankLitres * WaterJoulePerKelvinLitre);
        // A step of minutes must not carry the tank past where it would rest.
        In += Math.Clamp(change, -3, 3);

        var rise = Flow > 0.05 ? heat * 60 / (Flow * WaterJoulePerKelvinLitre) : 0;
        var passing = Flow > 0.05 ? JacketLitres / Flow * 60 : 120;
        Out += (In + rise - Out) * (1 - Math.Exp(-seconds / passing));
    }

    /// <summary>Lets a night pass with everything off.</summary>
    public void Rest(double seconds, double room)
    {
        var kept = Math.Exp(-seconds * LossToRoom / (TankLitres * WaterJoulePerKelvinLitre));
        In = room + ((In - room) * kept);
        Out = In;
        Flow = 0;
        _chilling = false;
    }
}
