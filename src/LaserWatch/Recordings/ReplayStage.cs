using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>One shop that a recording is played through; several can stand side by side on the same events.</summary>
/// <remarks>
/// Every machine is ticked once a second of the recording's time, as live, up to some seconds after each line and after the last:
/// of a longer time without any line nobody knows whether the machines were off or the recorder was, so nothing is judged in it.
/// Runs marked as inferred are not played: the watch works them out anew. Alarm lines are not judged either.
/// </remarks>
/// <param name="onInferred">Takes the runs that the watch worked out; null: nobody wants them.</param>
public sealed class ReplayStage(Shop shop, Action<AlarmChange> onAlarm, Action<IReadOnlyList<JobEvent>>? onInferred = null)
{
    private const long Second = 1_000_000_000;
    private const long LongestTicking = 20 * Second;

    private readonly List<MachineWatch> _machines = [.. shop.Machines];
    private MachineWatch? _lastMachine;
    private long _lastEvent;
    private long? _nextTick;

    public Instant? First { get; private set; }

    public Instant? Last { get; private set; }

    /// <summary>Samples and events of machines beyond those that the shop takes.</summary>
    public long NotWatched { get; private set; }

    /// <summary>Runs that the watch worked out from beam and air.</summary>
    public long InferredRuns { get; private set; }

    public IReadOnlyList<MachineWatch> Machines => _machines;

    /// <summary>To be called after the last event: what waits to be judged in order is judged when nothing more comes.</summary>
    public void End()
    {
        if (Last is { } last)
            PassTime(last + TimeSpan.FromSeconds(10));
    }

    /// <summary>Plays one event; those of all machines in time order.</summary>
    public void Play(RecordingEvent e)
    {
        if (e.Kind == RecordingEventKind.Alarm)
            return;
        if (e.Kind == RecordingEventKind.JobRecord)
        {
            Tell(shop.Observe(e.JobRecord!));
            return;
        }

        TakeTimeFrom(e.At);
        if (!(e.At >= First))
            First = e.At;
        if (!(e.At <= Last))
            Last = e.At;
        if (e.JobRun is { Inferred: true })
            return;
        if (Find(e.Machine) is not { } machine)
        {
            NotWatched += Math.Max(1, e.Values.Length);
            return;
        }

        Tell(e.Kind switch
        {
            RecordingEventKind.JobRun => machine.Observe(e.JobRun!),
            RecordingEventKind.Service => machine.Observe(e.Service!),
            _ => machine.Observe(e.At, e.Values),
        });
    }

    private void TakeTimeFrom(Instant at)
    {
        var now = at.UnixNanoseconds;
        if (_nextTick is not null && now < _lastEvent)
            return; // too late to be put right: time does not run backwards
        PassTime(at);
        _lastEvent = now;
        _nextTick = NextWholeSecond(now);
    }

    /// <summary>Lets the recording's time pass up to an instant, where it has begun.</summary>
    public void PassTime(Instant until)
    {
        while (_nextTick is { } next && next <= until.UnixNanoseconds)
        {
            if (next - _lastEvent is > LongestTicking or < 0 || next > long.MaxValue - Second)
                return;
            Tick(new Instant(next));
            _nextTick = next + Second;
        }
    }

    private void Tick(Instant at)
    {
        foreach (var machine in _machines)
        {
            Tell(machine.Tick(at));
            if (!machine.HasInferredRuns)
                continue;
            var inferred = machine.TakeInferredRuns();
            InferredRuns += CountStarts(inferred);
            onInferred?.Invoke(inferred);
        }
    }

    private MachineWatch? Find(string name)
    {
        if (_lastMachine is { } last && ReferenceEquals(last.Machine, name))
            return last;
        var met = shop.Machines.Count;
        var machine = shop.Find(name);
        if (shop.Machines.Count > met)
            _machines.Add(machine!);
        return _lastMachine = machine;
    }

    private void Tell(IReadOnlyList<AlarmChange> changes)
    {
        if (ReferenceEquals(changes, MachineWatch.Nothing))
            return;
        for (var i = 0; i < changes.Count; i++)
            onAlarm(changes[i]);
    }

    private static int CountStarts(IReadOnlyList<JobEvent> runs)
    {
        var starts = 0;
        for (var i = 0; i < runs.Count; i++)
            starts += runs[i].Kind == JobEventKind.Start ? 1 : 0;
        return starts;
    }

    private static long NextWholeSecond(long nanoseconds)
    {
        var intoSecond = nanoseconds % Second;
        if (intoSecond < 0)
            intoSecond += Second;
        return nanoseconds > long.MaxValue - Second ? long.MaxValue : nanoseconds - intoSecond + Second;
    }
}
