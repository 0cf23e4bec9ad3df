using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>A laser cutter that is not there: tube and supply, air, coolant and room as far as sensors see them.</summary>
/// <remarks>
/// Steps through planned shifts in fixed steps. The same options and plan give the same samples to the bit. While it is
/// switched off it tells nothing, and cools down. A new fault kind needs a line in <see cref="ApplyFaults"/>.
/// </remarks>
public sealed class SimulatedMachine
{
    /// <summary>From the start of a run to its first cut, and from its last to the end, seconds.</summary>
    private const double LeadIn = 2, LeadOut = 0.5;

    private readonly SimulatedMachineOptions _options;
    private readonly SeededNoise _patternNoise;
    private readonly SeededNoise _operator;
    private readonly SimulatedRoom _room;
    private readonly TubeAndSupply _tube;
    private readonly AirLine _air;
    private readonly CoolantLoop _coolant;
    private readonly List<SimulatedSensor> _sensors = [];
    private readonly SimulatedMoment _moment = new();
    private CutPattern? _pattern;
    private double _regulatorSetting;
    private Instant? _switchedOff;

    public SimulatedMachine(SimulatedMachineOptions options)
    {
        _options = options;
        var noise = new SeededNoise(options.Seed);
        _patternNoise = noise.Part(1);
        _operator = noise.Part(2);
        _room = new SimulatedRoom(noise.Part(3));
        _tube = new TubeAndSupply(noise.Part(4), options.SupplyLimitMilliamps, options.MainsDeviation);
        _air = new AirLine(noise.Part(5)) { SupplyEffect = options.RegulatorSupplyEffect };
        _coolant = new CoolantLoop(noise.Part(6), options.Cooler);
        foreach (var channel in options.Channels)
            _sensors.Add(Sensor(channel, noise.Part(100 + channel.Index)));
    }

    /// <summary>Runs the shifts. The moments come in time order; each is good until the next.</summary>
    public IEnumerable<SimulatedMoment> Run(IEnumerable<PlannedShift> shifts)
    {
        foreach (var shift in shifts)
        {
            SwitchOn(shift);
            if (!_moment.IsEmpty)
                yield return _moment;
            var next = 0;
            PlannedRun? run = null;
            for (var at = shift.On; at < shift.Off; at += _options.Step)
            {
                _moment.Clear();
                _moment.At = at;
                if (run is not null && at >= run.End)
                {
                    Announce(run, at, JobEventKind.End);
                    run = null;
                }

                if (run is null && next < shift.Runs.Count && at >= shift.Runs[next].Start)
                {
                    run = shift.Runs[next++];
                    Start(run);
                    Announce(run, at, JobEventKind.Start);
                }

                Step(at, run);
                if (!_moment.IsEmpty)
                    yield return _moment;
            }

            _switchedOff = shift.Off;
            foreach (var sensor in _sensors)
                sensor.SwitchOff();
        }
    }

    private void SwitchOn(PlannedShift shift)
    {
        _moment.Clear();
        _moment.At = shift.On;
        _moment.Services.AddRange(shift.Services);
        if (_switchedOff is not { } off)
            return;
        var rested = shift.On.SecondsSince(off);
        _room.Step(shift.On, rested);
        _coolant.Rest(rested, _room.Temperature);
    }

    private void Start(PlannedRun run)
    {
        _pattern = new CutPattern(_patternNoise, run.Job.Mode, run.Job.Power?.Value ?? 50);
        // Nobody hits the mark exactly.
        _regulatorSetting = run.Job.AirPressure is { } pressure
            ? AirLine.SettingFor(pressure.Value) * (1 + (0.006 * _operator.Normal()))
            : 0;
    }

    private void Announce(PlannedRun run, Instant at, JobEventKind kind)
    {
        if (run.Announced)
            _moment.Jobs.Add(new JobEvent(_options.Machine, at, kind, kind == JobEventKind.Start ? run.Job.Job : null));
    }

    private void Step(Instant at, PlannedRun? run)
    {
        var seconds = _options.Step.TotalSeconds;
        ApplyFaults(at);

        double power = 0, flow = 0, duty = 0, beam = 0;
        if (run is not null)
        {
            power = run.Job.Power?.Value ?? 50;
            if (at.SecondsSince(run.Start) >= LeadIn && run.End.SecondsSince(at) > LeadOut)
            {
                _pattern!.Step(seconds);
                power = _pattern.Power;
                flow = _pattern.Flow;
                duty = _pattern.Duty;
                beam = _pattern.BeamOn ? 1 : 0;
            }
        }

        _room.Step(at, seconds);
        _tube.Age += duty * seconds / 3600 / 1000 * _options.AgePerThousandHours;
        _tube.Step(seconds, power, flow, duty);
        _air.Step(seconds, run is not null);
        _coolant.Step(seconds, _tube.Heat, _room.Temperature, running: true);

        foreach (var sensor in _sensors)
        {
            var quantity = Quantity(sensor.Channel, power, beam);
            if (sensor.Step(at, seconds, quantity, out var value))
                _moment.Values.Add(new ChannelValue(sensor.Channel, value));
        }
    }

    private void ApplyFaults(Instant at)
    {
        _air.LineOpen = _air.NozzleOpen = _coolant.CoolerOpen = _coolant.PumpStrength = 1;
        _air.CompressorTripped = false;
        _air.RegulatorSetting = _regulatorSetting;
        _tube.SupplyLoss = 0;
        _tube.ExtraAge = 0;
        foreach (var sensor in _sensors)
        {
            sensor.Silent = sensor.Stuck = false;
            sensor.Instead = null;
        }

        foreach (var fault in _options.Faults)
        {
            if (fault.SeverityAt(at) is not { } severity)
                continue;
            switch (fault.Kind)
            {
                case FaultKind.HoseKink: _air.LineOpen = 1 - severity; break;
                case FaultKind.CompressorTrip: _air.CompressorTripped = true; break;
                case FaultKind.WrongRegulatorSetting: _air.RegulatorSetting *= 1 - severity; break;
                case FaultKind.NozzleObstruction: _air.NozzleOpen = 1 - severity; break;
                case FaultKind.CloggedCooler: _coolant.CoolerOpen = 1 - severity; break;
                case FaultKind.WeakPump: _coolant.PumpStrength = 1 - severity; break;
                case FaultKind.AgeingTube: _tube.ExtraAge = severity; break;
                case FaultKind.SupplyLoss: _tube.SupplyLoss = severity; break;
                case FaultKind.SensorSilent: SensorOf(fault).Silent = true; break;
                case FaultKind.SensorStuck: SensorOf(fault).Stuck = true; break;
                case FaultKind.SensorImplausible: SensorOf(fault).Instead = severity; break;
                default: throw new InvalidOperationException($"The fault {fault.Kind} is not simulated.");
            }
        }
    }

    private SimulatedSensor SensorOf(SimulatedFault fault) =>
        _sensors.Find(sensor => sensor.Channel == fault.Channel)
        ?? throw new InvalidOperationException($"The fault {fault.Kind} names the channel {fault.Channel}, which has no sensor here.");

    private double Quantity(Channel channel, double power, double beam)
    {
        if (channel == Channel.TubeCurrent)
            return _tube.Current;
        if (channel == Channel.Power)
            return power;
        if (channel == Channel.Lasing)
            return beam;
        if (channel == Channel.AirPressure)
            return _air.Pressure;
        if (channel == Channel.AirFlow)
            return _air.Flow;
        if (channel == Channel.CoolantIn)
            return _coolant.In;
        if (channel == Channel.CoolantOut)
            return _coolant.Out;
        if (channel == Channel.CoolantFlow)
            return _coolant.Flow;
        if (channel == Channel.AmbientTemperature)
            return _room.Temperature;
        if (channel == Channel.AmbientHumidity)
            return _room.Humidity;
        if (channel == Channel.Runtime)
            return _options.BeamHours + _tube.BeamHours;
        throw new InvalidOperationException($"The channel {channel} is not simulated.");
    }

    /// <summary>Sensors as cheap ones are: resolution, noise and slowness.</summary>
    private SimulatedSensor Sensor(Channel channel, SeededNoise noise)
    {
        var (fast, slow) = (_options.FastInterval, _options.SlowInterval);
        var at = TimeSpan.Zero;
        return channel.Name switch
        {
            "tube_current" => new(channel, fast, 0.05, 0.06, TimeSpan.FromMilliseconds(120), noise),
            "power" => new(channel, fast, 0.5, 0, at, noise),
            "lasing" => new(channel, fast, 1, 0, at, noise),
            "air_pressure" => new(channel, fast, 0.2, 0.5, TimeSpan.FromMilliseconds(50), noise),
            "air_flow" => new(channel, fast, 0.1, 0.25, TimeSpan.FromMilliseconds(300), noise),
            "coolant_in" or "coolant_out" => new(channel, slow, 0.0625, 0.03, TimeSpan.FromSeconds(4), noise),
            "coolant_flow" => new(channel, slow, 0.02, 0.02, TimeSpan.FromSeconds(1), noise),
            "ambient_temperature" => new(channel, slow, 0.1, 0.04, TimeSpan.FromSeconds(30), noise),
            "ambient_humidity" => new(channel, slow, 0.1, 0.15, TimeSpan.FromSeconds(30), noise),
            "runtime" => new(channel, slow, 0.01, 0, at, noise),
            _ => throw new InvalidOperationException($"The channel {channel} is not simulated."),
        };
    }
}
