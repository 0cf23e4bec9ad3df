using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Diagnosis;

/// <summary>A machine that cut well four times, and the last time did not: what a true cause does to the sensors, and what a person sees of it.</summary>
internal sealed class Story
{
    private readonly Scene _scene = new(recordedCurrent: 18.2);
    private readonly List<string> _seen = [];

    private Story(string cause) => Cause = cause;

    /// <summary>The true cause.</summary>
    public string Cause { get; }

    public IReadOnlyList<string> Words => _seen;

    // Factors on, or offsets from, what a healthy run shows.
    public double Pressure { get; init; } = 1;

    public double Flow { get; init; } = 1;

    public double Current { get; init; } = 1;

    public double PowerPoints { get; init; }

    public double CoolantKelvins { get; init; }

    public double CoolantFlow { get; init; } = 1;

    public double RoomCelsius { get; init; } = 21;

    public double Humidity { get; init; } = 45;

    /// <summary>Part, action, and days before the bad cut.</summary>
    public (string Part, string Action, double Days)[] Served { get; init; } = [];

    public string[] Seen { init => _seen.AddRange(value); }

    public static Story Of(string cause) => new(cause);

    public static Story[] All =>
    [
        new("lens-dirty") { Served = [("lens", "cleaned", 12), ("mirrors", "cleaned", 4)], Seen = ["weaker-everywhere", "slowly-worse", "charred-edge"] },
        new("mirrors-dirty") { Served = [("lens", "cleaned", 0.5), ("mirrors", "cleaned", 40)], Seen = ["weaker-everywhere", "slowly-worse", "thin-and-shallow"] },
        new("mirrors-misaligned") { Served = [("mirrors", "cleaned", 0.5)], Seen = ["only-at-one-corner", "all-jobs"] },
        new("nozzle-dirty") { Pressure = 1.048, Flow = 0.52, Seen = ["charred-edge"] }, // half shut, by ISO 6358: computed
        new("nozzle-off-centre") { Seen = ["one-side-only", "after-a-knock"] },
        new("lens-wrong") { Served = [("lens", "replaced", 0.3)], Seen = ["weaker-everywhere", "wide-cut", "suddenly", "all-jobs"] },
        new("focus-gap") { Served = [("lens", "cleaned", 2)], Seen = ["weaker-everywhere", "wide-cut", "suddenly"] },
        new("bed-level") { Served = [("alignment", "set", 20)], Seen = ["only-at-one-corner", "wide-cut", "all-jobs"] },
        new("material-not-flat") { Seen = ["in-patches", "wide-cut", "this-job-only"] },
        new("material-different") { Humidity = 74, Seen = ["this-job-only", "in-patches", "thin-and-shallow"] },
        new("speed-wrong") { Seen = ["this-job-only", "weaker-everywhere", "thin-and-shallow", "suddenly"] },
        new("power-wrong") { PowerPoints = -8, Current = 0.89, Seen = ["this-job-only", "thin-and-shallow"] },
        new("air-set-low") { Pressure = 0.8, Flow = 0.87, Seen = ["charred-edge"] },
        new("air-hose-kink") { Pressure = 0.59, Flow = 0.73, Seen = ["charred-edge", "suddenly", "all-jobs", "flames"] },
        new("air-leak") { Pressure = 0.84, Flow = 1.79, Seen = ["charred-edge"] },
        new("air-water") { Humidity = 78, Served = [("water-trap", "drained", 25)], Seen = ["drops-at-nozzle", "comes-and-goes"] },
        new("coolant-warm") { CoolantKelvins = 10, RoomCelsius = 30, Seen = ["worse-when-warm"] },
        new("coolant-flow-low") { CoolantKelvins = 4, CoolantFlow = 0.5, Seen = ["worse-when-warm"] },
        new("condensation") { CoolantKelvins = -4, RoomCelsius = 27, Humidity = 75, Seen = ["weaker-everywhere"] },
        new("tube-aged") { Served = [("tube", "replaced", 800), ("lens", "cleaned", 0.5), ("mirrors", "cleaned", 0.5), ("alignment", "set", 0.4), ("combiner", "cleaned", 1)], Seen = ["weaker-everywhere", "slowly-worse", "thin-and-shallow", "all-jobs"] },
        new("supply-failing") { Current = 0.9, Seen = ["comes-and-goes", "thin-and-shallow"] },
        // Without the knock that shook the connector loose nothing tells it from low mains: it stands third then.
        new("command-path") { Current = 0.8, Seen = ["comes-and-goes", "thin-and-shallow", "all-jobs", "after-a-knock"] },
        new("belt-loose") { Seen = ["wavy-lines"] },
    ];

    /// <summary>Plays it through the watch, from its first sample on.</summary>
    public MachineSnapshot Play()
    {
        foreach (var (part, action, days) in Served.OrderByDescending(s => s.Days))
        {
            _scene.Watch.Observe(new ServiceEvent(
                "bay1", Scene.Start - TimeSpan.FromDays(days), part, action, null, null, ServiceEvent.NoDetails));
        }

        for (var run = 0; run < 5; run++)
        {
            _scene.Begin();
            for (var second = 0; second < 80; second++)
                Say(second, bad: run == 4);
            _scene.End();
            _scene.Now += TimeSpan.FromMinutes(3);
        }

        return _scene.Watch.TakeSnapshot();
    }

    /// <summary>The same, but with the watch saved and taken up anew at the end.</summary>
    public MachineSnapshot PlayRestored()
    {
        Play();
        var anew = new MachineWatch("bay1", _scene.Options, _scene.Book);
        Assert.True(anew.TryRestore(_scene.Watch.Save()));
        return anew.TakeSnapshot();
    }

    private void Say(int second, bool bad)
    {
        var ripple = Math.Sin(second * 1.7); // sensors are never quite still
        double On(double factor) => bad ? factor : 1;
        double By(double offset) => bad ? offset : 0;
        _scene.Say(
            1, new(Channel.Lasing, 1), new(Channel.Power, 66 + By(PowerPoints)), new(Channel.AirPressure, (210 * On(Pressure)) + ripple),
            new(Channel.AirFlow, (60 * On(Flow)) + (0.3 * ripple)), new(Channel.TubeCurrent, (18.2 * On(Current)) + (0.1 * ripple)),
            new(Channel.CoolantIn, 19 + By(CoolantKelvins) + (0.05 * ripple)), new(Channel.CoolantFlow, (3 * On(CoolantFlow)) + (0.02 * ripple)),
            new(Channel.AmbientTemperature, bad ? RoomCelsius : 21), new(Channel.AmbientHumidity, bad ? Humidity : 45));
    }
}
