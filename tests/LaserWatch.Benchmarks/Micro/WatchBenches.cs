using BenchmarkDotNet.Attributes;
using LaserWatch.Benchmarks.Speed;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Micro;

/// <summary>From samples to verdicts: a machine that is known for some days, in the middle of a cut.</summary>
/// <remarks>Each call moves the machine's time on by a second, as live.</remarks>
[BenchmarkCategory("watch")]
public class WatchBenches
{
    private readonly ChannelValue[] _values =
    [
        new(Channel.TubeCurrent, 18.1), new(Channel.Power, 66), new(Channel.Lasing, 1), new(Channel.AirPressure, 210.2), new(Channel.CoolantIn, 20.1),
        new(Channel.CoolantOut, 21.2), new(Channel.AmbientTemperature, 21.4), new(Channel.AmbientHumidity, 45.8),
    ];

    private MachineWatch _watch = null!;
    private Instant _at;
    private int _odd;

    [GlobalSetup]
    public void Learn()
    {
        var jobs = new JobBook();
        foreach (var job in SimulatedShop.Jobs)
            jobs.Add(job);
        _watch = new MachineWatch("bay1", MonitorOptions.Default, jobs);
        var days = new RecordedDays(2, SimulatedShop.EightChannelsEachSecond("bay1", 1, 2));
        for (var i = 0; i < days.Count; i++)
            days.Play(i, _watch, TimeSpan.Zero);
        _at = _watch.Newest!.Value + TimeSpan.FromHours(15);
        _watch.Observe(new JobEvent("bay1", _at, JobEventKind.Start, SimulatedShop.Jobs[0].Job));
    }

    [Benchmark(Description = "observe a second's 8 samples together")]
    public int ObserveTogether()
    {
        Pass();
        return _watch.Observe(_at, _values).Count;
    }

    [Benchmark(Description = "observe 8 samples one by one", OperationsPerInvoke = 8)]
    public int ObserveOneByOne()
    {
        Pass();
        var changes = 0;
        foreach (ref readonly var value in _values.AsSpan())
            changes += _watch.Observe(_at, new ReadOnlySpan<ChannelValue>(in value)).Count;
        return changes;
    }

    [Benchmark(Description = "tick")]
    public int Tick()
    {
        _at += TimeSpan.FromSeconds(1);
        return _watch.Tick(_at).Count;
    }

    // No two seconds are alike, or sensors would be called stuck.
    private void Pass()
    {
        _at += TimeSpan.FromSeconds(1);
        _odd = (_odd + 1) % 7;
        _values[0] = new(Channel.TubeCurrent, 18.1 + (0.05 * _odd));
        _values[3] = new(Channel.AirPressure, 210.2 + (0.2 * _odd));
        _values[4] = new(Channel.CoolantIn, 20.1 + (0.01 * _odd));
        _values[5] = new(Channel.CoolantOut, 21.2 - (0.01 * _odd));
    }
}
