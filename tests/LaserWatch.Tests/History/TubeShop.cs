using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Days of a shop whose tube does what the test says: a run of each job every weekday, currents every two seconds.</summary>
internal sealed class TubeShop
{
    public const string Machine = "bay1";

    /// <summary>Monday, midnight.</summary>
    public static readonly Instant FirstDay = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));

    public static readonly JobRecord Birch = new("birch-6-cut", FirstDay, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), null);
    public static readonly JobRecord Acrylic = new("acrylic-3-cut", FirstDay, "acrylic 3 mm", new PowerPercent(48), 20, new Kilopascals(60), null);
    public static readonly JobRecord Felt = new("felt-engraving", FirstDay, "felt", new PowerPercent(40), 300, new Kilopascals(60), null, CutMode.Raster);

    private readonly SeededNoise _noise;

    public TubeShop(int seed = 1) => _noise = new SeededNoise(seed);

    /// <summary>So that the baseline is that of the first day alone.</summary>
    public static MonitorOptions Options { get; } = MonitorOptions.Default with { TubeCurrent = new() { LearnBeamHours = 0.25 } };

    public static IReadOnlyList<JobRecord> Jobs { get; } = [Birch, Acrylic, Felt];

    public static JobBook Book
    {
        get
        {
            var book = new JobBook();
            foreach (var job in Jobs)
                book.Add(job);
            return book;
        }
    }

    public List<Sample> Samples { get; } = [];

    public List<JobEvent> Runs { get; } = [];

    public List<ServiceEvent> Services { get; } = [];

    /// <summary>How far single currents stray.</summary>
    public double Noise { get; init; } = 0.008;

    /// <summary>How far days stray.</summary>
    public double Wander { get; init; } = 0.003;

    public double MinutesOfRun { get; init; } = 12;

    public static Instant Morning(int day) => FirstDay + TimeSpan.FromDays(day) + TimeSpan.FromHours(8);

    /// <summary>The current of a new tube, mA.</summary>
    public static double Nominal(double powerPercent) => 2.7 + (0.235 * powerPercent);

    /// <summary>The weekdays from one day on, counted from <see cref="FirstDay"/>.</summary>
    /// <param name="ratio">What the tube's current is of a new one's, by the day.</param>
    public TubeShop Work(int from, int to, Func<int, double> ratio, params IReadOnlyList<JobRecord> jobs)
    {
        for (var day = from; day < to; day++)
        {
            if (day % 7 >= 5)
                continue;
            // After what was cut that day already.
            var at = Runs.Count > 0 && Runs[^1].At > Morning(day) ? Runs[^1].At + TimeSpan.FromMinutes(3) : Morning(day);
            var today = ratio(day) * (1 + (Wander * _noise.Normal()));
            foreach (var job in jobs.Count == 0 ? [Birch, Acrylic] : jobs)
                at = Run(job, at, today) + TimeSpan.FromMinutes(3);
        }

        return this;
    }

    public TubeShop Serve(int day, string part, string action, string? serial = null, string? note = null)
    {
        Services.Add(new ServiceEvent(Machine, Morning(day) - TimeSpan.FromHours(1), part, action, serial, note, ServiceEvent.NoDetails));
        return this;
    }

    public StoreBatch Batch(bool withRuns = true)
    {
        var batch = new StoreBatch();
        batch.Samples.AddRange(Samples.Select(sample => (Machine, sample)));
        batch.JobRecords.AddRange(Jobs);
        if (withRuns)
            batch.JobRuns.AddRange(Runs);
        batch.ServiceEvents.AddRange(Services);
        return batch;
    }

    /// <summary>Everything told to a listener in its place, the samples in spans as the cutter says.</summary>
    public T Tell<T>(T listener, bool runsAreKnown = true, Func<int, int>? cut = null)
        where T : IHistoryListener
    {
        listener.Begin(new HistorySpan(Machine, Samples[0].At, Instant.MaxValue, runsAreKnown));
        var events = Services.Select(s => (s.At, Rank: 0, What: (object)s)).Concat(Runs.Where(_ => runsAreKnown).Select(r => (r.At, Rank: r.Kind == JobEventKind.End ? 1 : 2, What: (object)r)))
            .OrderBy(e => e.At).ThenBy(e => e.Rank).ToList();
        var samples = Samples.ToArray();
        for (var (at, next) = (0, 0); at < samples.Length || next < events.Count;)
        {
            if (next < events.Count && (at == samples.Length || events[next].At <= samples[at].At))
            {
                if (events[next++].What is JobEvent run)
                    listener.Take(run);
                else
                    listener.Take((ServiceEvent)events[next - 1].What);
                continue;
            }

            var end = Math.Min(samples.Length, at + (cut?.Invoke(at) ?? samples.Length));
            for (var i = at; i < end; i++)
            {
                if (next < events.Count && events[next].At <= samples[i].At)
                    end = i;
            }

            listener.Take(samples.AsSpan(at, end - at));
            at = end;
        }

        listener.End();
        return listener;
    }

    public TubeHistory History(JobBook? book = null, bool runsAreKnown = true) => Tell(new TubeHistory(Options, book ?? Book), runsAreKnown);

    private Instant Run(JobRecord job, Instant at, double ratio)
    {
        var power = job.Power!.Value.Value;
        var end = at + TimeSpan.FromMinutes(MinutesOfRun);
        Runs.Add(new JobEvent(Machine, at, JobEventKind.Start, job.Job));
        for (var second = 0; at + TimeSpan.FromSeconds(second) < end; second += 2)
        {
            var now = at + TimeSpan.FromSeconds(second);
            // Half a minute of beam, then four seconds of travel.
            var on = second % 34 < 30 && second > 4;
            var shown = job.Mode == CutMode.Raster ? 0.4 + (0.4 * _noise.Uniform(0, 1)) : 1;
            var current = on ? Nominal(power) * ratio * shown * (1 + (Noise * _noise.Normal())) : 0.02;
            Samples.Add(new Sample(Channel.TubeCurrent, now, Math.Round(current, 2)));
            Samples.Add(new Sample(Channel.Power, now, power));
            Samples.Add(new Sample(Channel.Lasing, now, on ? 1 : 0));
            Samples.Add(new Sample(Channel.CoolantIn, now, 20));
        }

        Runs.Add(new JobEvent(Machine, end, JobEventKind.End, job.Job));
        return end;
    }
}
