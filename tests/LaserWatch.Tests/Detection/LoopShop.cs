using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>A seeded shop with one loop: tank, pump, jacket, cooler and two thermometers, integrated second by second in steps of the sample interval.</summary>
/// <remarks>
/// Heat of tube and pump goes into the tank; a radiator gives it to the room in proportion, a chiller takes it away at full power between two
/// temperatures. All figures are those of a common 60 W machine (common practice, no source).
/// </remarks>
internal sealed class LoopShop(int seed)
{
    private const double JoulesPerLitreKelvin = 4180;

    private readonly Random _random = new(seed);
    private bool _chilling;

    public Scene Scene { get; } = new();

    public bool Chiller { get; init; }

    public double Litres { get; set; } = 9;

    public double TubeWatts { get; init; } = 450;

    public double PumpWatts { get; init; } = 18;

    /// <summary>W/K of radiator and fan; of hoses and tank alone with a chiller.</summary>
    public double WattsPerKelvin { get; set; } = 60;

    public double ChillerWatts { get; set; } = 850;

    public double SetPoint { get; set; } = 20;

    public double Band { get; init; } = 0.5;

    public double Flow { get; set; } = 3;

    /// <summary>Error of the inlet's thermometer, K.</summary>
    public double SensorOff { get; set; }

    /// <summary>What is left of the tube current's reading.</summary>
    public double CurrentRead { get; set; } = 1;

    public double Interval { get; init; } = 5;

    public double SensorStep { get; init; } = 0.0625;

    public bool HasOutlet { get; init; } = true;

    public bool HasFlow { get; init; }

    public bool HasCurrent { get; init; }

    public double Coolant { get; private set; } = 20;

    public double Outlet { get; private set; } = 20;

    /// <summary>The tube's heat at the last step, W.</summary>
    public double Heat { get; private set; }

    public IEnumerable<AlarmChange> Raised(string condition) => Scene.Raised(condition);

    /// <summary>One working day from 8 h on, after a night with pump and cooler off.</summary>
    /// <param name="room">Hours since opening to °C.</param>
    public void Day(int day, double hours, Func<double, double> room, Action<double>? change = null, double? duty = null)
    {
        Scene.Now = Scene.Start + TimeSpan.FromDays(day);
        var kept = Math.Exp(-14 * 3600 * 5 / (Litres * JoulesPerLitreKelvin));
        Coolant = Outlet = room(0) + ((Coolant - room(0)) * kept);
        _chilling = false;
        var beam = 0.5;
        for (var t = 0.0; t < hours * 3600; t += Interval)
        {
            change?.Invoke(t / 3600);
            if (t % 1200 < Interval)
                beam = duty ?? 0.25 + (0.55 * _random.NextDouble());
            Step(room(t / 3600), _random.NextDouble() < beam);
        }
    }

    private void Step(double room, bool on)
    {
        Heat = on ? TubeWatts * 0.66 : 0;
        for (var s = 0.0; s < Interval; s += 1)
        {
            var dt = Math.Min(1, Interval - s);
            if (Chiller)
                _chilling = Coolant > SetPoint + Band || (_chilling && Coolant > SetPoint - Band);
            var removed = ((Chiller ? 5 : WattsPerKelvin) * (Coolant - room)) + (Chiller && _chilling ? ChillerWatts : 0);
            Coolant += (Heat + PumpWatts - removed) * dt / (Litres * JoulesPerLitreKelvin);
            var rise = Heat / (69.6 * Flow);
            Outlet += (Coolant + rise - Outlet) * (1 - Math.Exp(-dt / 15));
        }

        List<ChannelValue> values =
        [
            new(Channel.Lasing, on ? 1 : 0), new(Channel.Power, 66),
            new(Channel.CoolantIn, Read(Coolant + SensorOff, 0.05)), new(Channel.AmbientTemperature, Math.Round((room + (0.1 * Gauss())) * 10) / 10),
        ];
        if (HasOutlet)
            values.Add(new(Channel.CoolantOut, Read(Outlet, 0.05)));
        if (HasFlow)
            values.Add(new(Channel.CoolantFlow, Flow * (1 + (0.01 * Gauss()))));
        if (HasCurrent)
            values.Add(new(Channel.TubeCurrent, on ? (18.2 * CurrentRead) + (0.2 * Gauss()) : 0.1 * Gauss()));
        Scene.Say(Interval, [.. values]);
    }

    private double Read(double celsius, double noise) => Math.Round((celsius + (noise * Gauss())) / SensorStep) * SensorStep;

    private double Gauss() => Math.Sqrt(-2 * Math.Log(1 - _random.NextDouble())) * Math.Cos(2 * Math.PI * _random.NextDouble());
}
