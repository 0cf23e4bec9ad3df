using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>The devices that read the machine and send: each at its own interval, sometimes late, sometimes not at all.</summary>
internal sealed class Sensing
{
    private const double MostLateSeconds = 4;
    private const double RestartSeconds = 20;

    private readonly ShopPlan _plan;
    private readonly Noise _noise;
    private readonly Device[] _devices;
    private readonly PriorityQueue<(Instant At, ChannelValue[] Values), double> _late = new();
    private double _awayUntil;
    private double _nextAway;

    public Sensing(ShopPlan plan, IReadOnlyList<Fault> faults, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _devices = [.. plan.Sensors.Select(group => new Device(
            group, [.. group.Channels.Select(channel => new Instrument(channel, plan.Instruments, faults, noise.Branch((ulong)channel.Index + 20)))]))];
        _nextAway = UntilAway();
    }

    public void Tell(double time, Machine machine, ITelemetrySink sink)
    {
        while (_late.TryPeek(out var late, out var due) && due <= time)
        {
            _late.Dequeue();
            sink.Take(late.At, late.Values);
        }

        if (time >= _nextAway)
        {
            var restart = _noise.Uniform() * (_plan.Instruments.GapsPerDay + _plan.Instruments.RestartsPerDay) < _plan.Instruments.RestartsPerDay;
            _awayUntil = time + (restart ? RestartSeconds : _noise.Exponential(300));
            _nextAway = _awayUntil + UntilAway();
        }

        foreach (var device in _devices)
        {
            if (time < device.Next)
                continue;
            var group = device.Group;
            // After a night the device begins anew; otherwise it keeps its beat.
            var beat = time - device.Next > 10 * group.Interval ? time : device.Next;
            device.Next = beat + (group.Interval * Math.Max(1 + (group.Jitter * _noise.Normal()), 0.2));
            if (time < _awayUntil || _noise.Chance(group.Lost))
                continue;
            Send(device, time, machine, sink);
        }
    }

    private void Send(Device device, double time, Machine machine, ITelemetrySink sink)
    {
        var count = 0;
        for (var i = 0; i < device.Instruments.Length; i++)
        {
            var channel = device.Group.Channels[i];
            if (device.Instruments[i].Read(machine.Truth(channel, time), time) is { } value)
                device.Values[count++] = new ChannelValue(channel, value);
        }

        if (count == 0)
            return;
        var at = machine.InstantOf(time);
        if (_noise.Chance(device.Group.Late))
            _late.Enqueue((at, device.Values[..count]), time + _noise.Between(0.5, MostLateSeconds));
        else
            sink.Take(at, device.Values.AsSpan(0, count));
    }

    private double UntilAway()
    {
        var perDay = _plan.Instruments.GapsPerDay + _plan.Instruments.RestartsPerDay;
        return perDay <= 0 ? double.PositiveInfinity : _noise.Exponential((_plan.CloseHour - _plan.OpenHour) * 3600 / perDay);
    }

    private sealed class Device(SensorGroup group, Instrument[] instruments)
    {
        public SensorGroup Group { get; } = group;

        public Instrument[] Instruments { get; } = instruments;

        public ChannelValue[] Values { get; } = new ChannelValue[instruments.Length];

        public double Next;
    }
}
