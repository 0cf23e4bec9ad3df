using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>A machine under watch, driven second by second; keeps every alarm change.</summary>
internal sealed class Scene
{
    public const string Job = "birch-6-cut";

    /// <summary>Monday morning.</summary>
    public static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    public Scene(MonitorOptions? options = null, bool withRecord = true, double? recordedCurrent = null)
    {
        Options = options ?? MonitorOptions.Default;
        if (withRecord)
            Book.Add(Record(recordedCurrent));
        Watch = new MachineWatch("bay1", Options, Book);
        Now = Start;
    }

    public MonitorOptions Options { get; }

    public JobBook Book { get; } = new();

    public MachineWatch Watch { get; set; }

    public Instant Now { get; set; }

    public List<AlarmChange> Changes { get; } = [];

    public static JobRecord Record(double? current = null, CutMode mode = CutMode.Vector) =>
        new(Job, Start - TimeSpan.FromDays(1), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210),
            current is null ? null : new Milliamps(current.Value), mode);

    public void Begin(string job = Job) => Take(Watch.Observe(new JobEvent("bay1", Now, JobEventKind.Start, job)));

    public void End() => Take(Watch.Observe(new JobEvent("bay1", Now, JobEventKind.End, null)));

    /// <summary>Gives the values at the present instant, then lets a second (or so) pass, with its tick.</summary>
    public void Say(double seconds, params ChannelValue[] values)
    {
        Take(Watch.Observe(Now, values));
        Now += TimeSpan.FromSeconds(seconds);
        Take(Watch.Tick(Now));
    }

    /// <summary>Cutting with these pressures, one a second.</summary>
    public void Cut(params double[] pressures)
    {
        foreach (var pressure in pressures)
            Say(1, new(Channel.Lasing, 1), new(Channel.Power, 66), new(Channel.AirPressure, pressure));
    }

    private void Take(IReadOnlyList<AlarmChange> changes)
    {
        Assert.All(changes, change => Assert.All(change.Evidence, e => Assert.True(SentKeys.IsSnakeCase(e.Name), e.Name)));
        Changes.AddRange(changes);
    }

    public IEnumerable<AlarmChange> Raised(string condition) =>
        Changes.Where(c => c.Condition == condition && c.State == AlarmState.Unacknowledged);

    /// <summary>Told as a consequence of another alarm that stands.</summary>
    public IEnumerable<AlarmChange> Folded(string condition, string cause) =>
        Changes.Where(c => c.Condition == condition && c.State == AlarmState.SuppressedByDesign && c.ExplainedBy == cause);

    public static double[] Hold(double value, int seconds) => [.. Enumerable.Repeat(value, seconds)];
}
