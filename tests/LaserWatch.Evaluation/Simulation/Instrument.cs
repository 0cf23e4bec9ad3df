using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>One sensor: noise, steps, offset, interference, and its faults.</summary>
internal sealed class Instrument
{
    private readonly double _noise;
    private readonly bool _relative;
    private readonly double _step;
    private readonly double _offset;
    private readonly double _interference;
    private readonly Noise _numbers;
    private readonly Fault? _fault;
    private double _last;

    public Instrument(Channel channel, SensorPlan plan, IReadOnlyList<Fault> faults, Noise numbers)
    {
        _numbers = numbers;
        _fault = faults.FirstOrDefault(fault => fault.Channel == channel);
        (_noise, _step, _relative, var offset, _interference) = channel.Name switch
        {
            "tube_current" => (plan.CurrentNoise, plan.CurrentStep, true, 0.04, plan.Interference),
            // The record was made with the same sensor: only what its zero has moved since is left.
            "air_pressure" => (plan.PressureNoise, plan.PressureStep, false, 0.2, plan.Interference),
            "air_flow" => (0.012, 0.1, true, 0.2, 0.0),
            "coolant_in" or "coolant_out" => (plan.CelsiusNoise, plan.CelsiusStep, false, 0.25, 0.0),
            "ambient_temperature" => (plan.CelsiusNoise, plan.CelsiusStep, false, 0.3, 0.0),
            "coolant_flow" => (plan.FlowNoise, plan.FlowStep, false, 0.02, 0.0),
            "ambient_humidity" => (0.3, plan.HumidityStep, false, 1.0, 0.0),
            _ => (0.0, 0.0, false, 0.0, 0.0),
        };
        _offset = offset * numbers.Normal();
    }

    /// <summary>What the sensor says of a true value; null where it says nothing.</summary>
    public double? Read(double truth, double time)
    {
        if (_fault is not null && _fault.At(time) != 0)
        {
            switch (_fault.Kind)
            {
                case FaultKind.SensorSilent:
                    return null;
                case FaultKind.SensorFrozen:
                    return _last;
                case FaultKind.SensorBroken:
                    return _fault.Size;
            }
        }

        var value = truth + _offset + (_noise * _numbers.Normal() * (_relative ? Math.Abs(truth) : 1));
        if (_numbers.Chance(_interference))
            value = (value * _numbers.Between(0.2, 2.2)) + _numbers.Between(0, 1);
        if (_step > 0)
            value = Math.Round(value / _step) * _step;
        // What a microcontroller sends: four places.
        return _last = Math.Round(value, 4);
    }
}
