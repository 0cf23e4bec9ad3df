using LaserWatch.Models;

namespace LaserWatch.Demo;

/// <summary>Compressor, tank, regulator, valve, hose and nozzle.</summary>
/// <remarks>
/// Flow through hose and nozzle as ISO 6358 has it, by sonic conductance C and critical ratio b; the pressure at the sensor,
/// between them, is where both flows agree. The tank's sawtooth comes through the regulator a little.
/// </remarks>
public sealed class AirLine(SeededNoise noise)
{
    private const double RoomBar = 1.01325;
    private const double LineConductance = 1.0, LineCritical = 0.3;
    private const double NozzleConductance = 0.35, NozzleCritical = 0.5;
    private const double TankLitres = 50, CompressorLitresPerMinute = 160;
    private const double CutIn = 5.5, CutOut = 7.5;

    private static readonly TimeSpan Filling = TimeSpan.FromSeconds(0.35);

    private readonly Wander _draw = new(noise, TimeSpan.FromSeconds(4));
    private double _tank = 6.8;
    private bool _pumping;
    private (double Upstream, double Line, double Nozzle, double At) _solved = (-1, -1, -1, 0);

    /// <summary>Gauge pressure the regulator is set to, kPa.</summary>
    public double RegulatorSetting { get; set; }

    /// <summary>How much of a bar in the tank the regulator lets through: the sawtooth that the sensor sees.</summary>
    public double SupplyEffect { get; init; } = 0.02;

    /// <summary>What is left of the hose's conductance; 1 is a free hose.</summary>
    public double LineOpen { get; set; } = 1;

    /// <summary>What is left of the nozzle's conductance; 1 is a clean nozzle.</summary>
    public double NozzleOpen { get; set; } = 1;

    /// <summary>True while the compressor cannot run.</summary>
    public bool CompressorTripped { get; set; }

    /// <summary>Gauge pressure at the hose to the nozzle, kPa.</summary>
    public double Pressure { get; private set; }

    /// <summary>Flow of free air, L/min.</summary>
    public double Flow { get; private set; }

    /// <summary>Gauge pressure in the tank, kPa.</summary>
    public double TankPressure => 100 * _tank;

    /// <summary>The regulator setting that gives a pressure at the sensor with a free hose and a clean nozzle, kPa.</summary>
    public static double SettingFor(double pressure)
    {
        var (low, high) = (pressure, (2 * pressure) + 100);
        for (var i = 0; i < 50; i++)
        {
            var middle = 0.5 * (low + high);
            (low, high) = Node(Bar(middle), LineConductance, NozzleConductance) < Bar(pressure) ? (middle, high) : (low, middle);
        }

        return 0.5 * (low + high);
    }

    /// <summary>Flow through a part with sonic conductance <paramref name="c"/>, dm³/s of free air; pressures absolute, bar.</summary>
    /// <remarks>ISO 6358-1, at the reference temperature.</remarks>
    public static double FlowThrough(double c, double b, double upstream, double downstream)
    {
        if (downstream >= upstream)
            return 0;
        var ratio = downstream / upstream;
        var choking = ratio <= b ? 1 : Math.Sqrt(1 - Square((ratio - b) / (1 - b)));
        return c * upstream * choking;
    }

    /// <summary>The gauge pressure between hose and nozzle, kPa, and the flow, L/min of free air, once all is steady.</summary>
    public static (double Pressure, double Flow) Steady(double regulatorSetting, double lineOpen, double nozzleOpen)
    {
        var node = Node(Bar(regulatorSetting), LineConductance * lineOpen, NozzleConductance * nozzleOpen);
        return (100 * (node - RoomBar), 60 * FlowThrough(NozzleConductance * nozzleOpen, NozzleCritical, node, RoomBar));
    }

    public void Step(double seconds, bool valveOpen)
    {
        _draw.Step(seconds);
        if (CompressorTripped)
            _pumping = false;
        else if (_tank < CutIn)
            _pumping = true;
        else if (_tank > CutOut)
            _pumping = false;

        var litres = ((_pumping ? CompressorLitresPerMinute : 0) - Flow) * seconds / 60;
        _tank = Math.Max(0, _tank + (litres * RoomBar / TankLitres));

        var regulated = Math.Min(RegulatorSetting + (100 * SupplyEffect * (_tank - 6.5)), TankPressure);
        var target = 0.0;
        if (valveOpen && regulated > 0)
            target = Solve(Bar(regulated)) + (0.25 * _draw.Value);

        Pressure += (target - Pressure) * (1 - Math.Exp(-seconds / Filling.TotalSeconds));
        Flow = Pressure <= 0.5 ? 0
            : 60 * FlowThrough(NozzleConductance * NozzleOpen, NozzleCritical, Bar(Pressure), RoomBar);
    }

    private double Solve(double upstream)
    {
        var key = (upstream, LineOpen, NozzleOpen);
        if (key != (_solved.Upstream, _solved.Line, _solved.Nozzle))
        {
            var node = Node(upstream, LineConductance * LineOpen, NozzleConductance * NozzleOpen);
            _solved = (upstream, LineOpen, NozzleOpen, 100 * (node - RoomBar));
        }

        return _solved.At;
    }

    /// <summary>The absolute pressure between hose and nozzle, where what comes by the one leaves by the other; bar.</summary>
    private static double Node(double upstream, double line, double nozzle)
    {
        var (low, high) = (RoomBar, upstream);
        for (var i = 0; i < 30; i++)
        {
            var middle = 0.5 * (low + high);
            var surplus = FlowThrough(line, LineCritical, upstream, middle) - FlowThrough(nozzle, NozzleCritical, middle, RoomBar);
            (low, high) = surplus > 0 ? (middle, high) : (low, middle);
        }

        return 0.5 * (low + high);
    }

    private static double Square(double x) => x * x;

    private static double Bar(double gaugeKilopascals) => (gaugeKilopascals / 100) + RoomBar;
}
