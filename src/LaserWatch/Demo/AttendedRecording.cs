using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>A simulated machine's recording with the alarms that were told then, and with somebody who acknowledged and reset them.</summary>
/// <remarks>A high alarm is seen within minutes, a lesser one within the hour, if the machine runs for so long; else the next working day.</remarks>
public sealed class AttendedRecording
{
    private const string Person = "ana";
    private static readonly TimeSpan LongestTicking = TimeSpan.FromSeconds(20);

    private readonly MachineWatch _watch;
    private readonly SeededNoise _noise;
    private readonly LineFormatter _lines = new();
    private readonly PriorityQueue<(string Condition, AlarmCommandKind Kind), Instant> _unseen = new();
    private Instant? _last;

    private AttendedRecording(string machine, IReadOnlyList<JobRecord> jobs, int seed)
    {
        var book = new JobBook();
        foreach (var job in jobs)
            book.Add(job);
        _watch = new MachineWatch(machine, MonitorOptions.Default, book);
        _noise = new SeededNoise(seed);
    }

    /// <summary>Writes the whole recording.</summary>
    public static void Write(Stream to, string machine, IReadOnlyList<JobRecord> jobs, IEnumerable<SimulatedMoment> moments, int seed = 1)
    {
        var recording = new AttendedRecording(machine, jobs, seed);
        foreach (var job in jobs.OrderBy(job => job.RecordedAt))
            EventLines.Write(recording._lines, job);
        foreach (var moment in moments)
        {
            recording.Take(machine, moment);
            if (recording._lines.Written.Length < 1 << 16)
                continue;
            to.Write(recording._lines.Written);
            recording._lines.Clear();
        }

        to.Write(recording._lines.Written);
    }

    private void Take(string machine, SimulatedMoment moment)
    {
        // As live, the watch is told each second that time passes, but of a night nobody knows anything.
        if (_last is { } last && moment.At - last < LongestTicking)
        {
            for (var second = last + TimeSpan.FromSeconds(1); second <= moment.At; second += TimeSpan.FromSeconds(1))
                Tell(_watch.Tick(second));
        }

        while (_unseen.TryPeek(out var toDo, out var seen) && seen <= moment.At)
        {
            _unseen.Dequeue();
            Tell(_watch.Observe(new AlarmCommand(machine, moment.At, toDo.Kind, toDo.Condition, Person)));
        }

        foreach (var service in moment.Services)
        {
            EventLines.Write(_lines, service);
            Tell(_watch.Observe(service));
        }

        foreach (var job in moment.Jobs)
        {
            EventLines.Write(_lines, job);
            Tell(_watch.Observe(job));
        }

        if (moment.Values.Count > 0)
        {
            _lines.Measurement(EventLines.Telemetry).Tag("machine", machine);
            foreach (var value in moment.Values)
                _lines.Field(value.Channel.Name, value.Value);
            _lines.Time(moment.At);
            Tell(_watch.Observe(moment.At, System.Runtime.InteropServices.CollectionsMarshal.AsSpan(moment.Values)));
        }

        _last = moment.At;
    }

    private void Tell(IReadOnlyList<AlarmChange> changes)
    {
        foreach (var change in changes)
        {
            EventLines.Write(_lines, change);
            if (change.State == AlarmState.Unacknowledged)
                _unseen.Enqueue((change.Condition, AlarmCommandKind.Acknowledge), change.Time + Delay(change.Priority));
            else if (change is { State: AlarmState.Acknowledged, IsLatched: true })
                _unseen.Enqueue((change.Condition, AlarmCommandKind.Reset), change.Time + TimeSpan.FromMinutes(5));
        }
    }

    private TimeSpan Delay(AlarmPriority priority) => priority >= AlarmPriority.High
        ? TimeSpan.FromSeconds((int)_noise.Uniform(20, 400))
        : TimeSpan.FromSeconds((int)_noise.Uniform(300, 5400));
}
