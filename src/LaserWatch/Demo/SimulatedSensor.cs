using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>A sensor: slow, noisy and coarse, as sensors are; and it can fail.</summary>
/// <param name="resolution">The smallest step it tells, in the channel's unit.</param>
/// <param name="deviation">Of its noise, in the channel's unit.</param>
/// <param name="lag">The time constant of its answer.</param>
public sealed class SimulatedSensor(
    Channel channel, TimeSpan interval, double resolution, double deviation, TimeSpan lag, SeededNoise noise)
{
    private readonly long _interval = interval.Ticks * 100;
    private double? _felt;
    private double _last;
    private bool _hasLast;

    public Channel Channel { get; } = channel;

    public bool Silent { get; set; }

    public bool Stuck { get; set; }

    /// <summary>What it tells instead, such as the −127 of a probe that is not plugged in; null: what it measures.</summary>
    public double? Instead { get; set; }

    /// <summary>Feels the quantity for a step; true where it tells a value at the end of the step.</summary>
    public bool Step(Instant at, double seconds, double quantity, out double value)
    {
        var felt = _felt is { } before && lag > TimeSpan.Zero
            ? before + ((quantity - before) * (1 - Math.Exp(-seconds / lag.TotalSeconds)))
            : quantity;
        _felt = felt;
        value = _last;
        if (Silent || at.UnixNanoseconds % _interval != 0)
            return false;
        if (!Stuck || !_hasLast)
        {
            // Through decimal, so that 18.2 is told as 18.2 and not as 18.200000000000003.
            var steps = Math.Round((felt + (deviation * (deviation > 0 ? noise.Normal() : 0))) / resolution);
            _last = (double)((decimal)steps * (decimal)resolution);
            _hasLast = true;
        }

        value = Instead ?? _last;
        return true;
    }

    /// <summary>After a time switched off it starts from what it meets.</summary>
    public void SwitchOff() => _felt = null;
}
