using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks;

/// <summary>Whether the samples of one second bear one time, as sensors on one board send them, or each its own time of arrival.</summary>
public enum Stamps
{
    Together,
    OnArrival,
}

/// <summary>Days of eight channels at 1 Hz, the machine on day and night and at work on weekdays, as the simulated machine tells them.</summary>
public sealed class StoreTelemetry
{
    public const string Machine = "bay1";

    private const int Seed = 20_260_309;

    private static readonly Instant FirstDay = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));

    // A Monday morning at work, so that a short stretch of it is no idle one.
    private static readonly Instant Begin = FirstDay + TimeSpan.FromHours(8);

    private static readonly JobRecord[] Jobs =
    [
        new("birch-6-cut", FirstDay, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2)),
        new("acrylic-3-cut", FirstDay, "acrylic 3 mm", new PowerPercent(48), 15, new Kilopascals(90), new Milliamps(14)),
        new("slate-engrave", FirstDay, "slate", new PowerPercent(30), 300, new Kilopascals(60), new Milliamps(9), CutMode.Raster),
    ];

    private StoreTelemetry(Sample[] samples, Instant end)
    {
        Samples = samples;
        End = end;
    }

    /// <summary>In time order, at equal times by channel.</summary>
    public Sample[] Samples { get; }

    public Instant End { get; }

    public static StoreTelemetry Simulate(TimeSpan length, Stamps stamps)
    {
        var second = TimeSpan.FromSeconds(1);
        var machine = new SimulatedMachine(new SimulatedMachineOptions
        {
            Machine = Machine, Seed = Seed, Step = TimeSpan.FromMilliseconds(500), FastInterval = second, SlowInterval = second,
        });
        var end = Begin + length;
        var work = WorkPlan.Weekdays(Seed, FirstDay, (int)length.TotalDays + 1, Jobs).SelectMany(shift => shift.Runs).ToList();
        var arrival = new ArrivalDelays(Seed);
        var samples = new List<Sample>((int)length.TotalSeconds * 8);
        foreach (var moment in machine.Run([new PlannedShift(Begin, end, work)]))
        {
            foreach (var value in moment.Values)
                samples.Add(new Sample(value.Channel, stamps == Stamps.Together ? moment.At : arrival.Of(value.Channel, moment.At), value.Value));
        }

        // Each message is late by its own delay, so that they overtake one another.
        var sorted = samples.ToArray();
        if (stamps == Stamps.OnArrival)
            Array.Sort(sorted, (a, b) => a.At != b.At ? a.At.CompareTo(b.At) : a.Channel.Index.CompareTo(b.Channel.Index));
        return new StoreTelemetry(sorted, end);
    }

    /// <summary>Sensors that each read at their own place in the second, by a clock 20 ppm fast or slow, over a network that takes 2 ms and more.</summary>
    private sealed class ArrivalDelays(int seed)
    {
        private const double LeastMs = 2, MeanMoreMs = 4;

        private readonly Random _random = new(seed);
        private readonly Dictionary<Channel, (double PhaseMs, double Drift)> _clocks = [];

        public Instant Of(Channel channel, Instant at)
        {
            if (!_clocks.TryGetValue(channel, out var clock))
                _clocks.Add(channel, clock = (_random.NextDouble() * 900, (_random.NextDouble() - 0.5) * 40e-6));
            var drifted = clock.PhaseMs + (clock.Drift * (at - Begin).TotalMilliseconds);
            var delay = LeastMs - (MeanMoreMs * Math.Log(1 - _random.NextDouble()));
            return at + TimeSpan.FromMilliseconds(Math.Floor(drifted + delay));
        }
    }
}
