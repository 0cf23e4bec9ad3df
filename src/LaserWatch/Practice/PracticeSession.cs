using LaserWatch.Alarms;
using LaserWatch.Cases;
using LaserWatch.Diagnosis;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>A case while it is practised: the recording through the same rules that watch live, and what the trainee does, each at its time.</summary>
/// <remarks>Knows no clock and no screen: whoever owns it tells how much of the recording's time passes. Not safe for several threads.</remarks>
public sealed class PracticeSession : IDisposable
{
    /// <summary>A longer time without any line is leapt over, as nights are.</summary>
    public static readonly TimeSpan LongestQuiet = TimeSpan.FromMinutes(2);

    /// <summary>So much of a quiet time is still lived through: silence has its own alarms.</summary>
    private static readonly TimeSpan QuietLivedThrough = TimeSpan.FromSeconds(20);

    private static readonly TimeSpan AfterTheLast = TimeSpan.FromSeconds(10);

    private readonly RecordingReader _reader;
    private readonly ReplayStage _stage;
    private readonly MachineWatch _machine;
    private readonly Dictionary<Channel, ChannelTrace> _traces = [];
    private readonly List<AlarmChange> _changes = [];
    private readonly List<DoneAct> _acts = [];
    private readonly string _by;
    private RecordingEvent? _next;
    private Instant _lastEvent;
    private (string? Job, Instant? Since) _run;
    private bool _watching;

    /// <param name="reader">The case's recording at its beginning; closed with the session.</param>
    /// <param name="shop">A shop that has seen nothing yet.</param>
    /// <param name="by">Who acknowledges.</param>
    /// <exception cref="IOException">The recording cannot be read.</exception>
    /// <exception cref="InvalidDataException">The recording's compression is damaged, or nothing of the machine is in it.</exception>
    public PracticeSession(TrainingCase practised, CauseModel model, RecordingReader reader, Shop shop, string by = "trainee")
    {
        (Case, Model, _reader, _by) = (practised, model, reader, by);
        Jobs = shop.Jobs;
        _machine = shop.Find(practised.Machine)!;
        _stage = new ReplayStage(shop, change =>
        {
            if (change.Machine == practised.Machine)
                _changes.Add(change);
        });
        ReadNext();
        while (_next is not null && practised.WatchFrom is { } from && _next.At < from)
            PlayNext();
        if (_next is null)
            throw new InvalidDataException($"nothing of {practised.Machine} is recorded{(practised.WatchFrom is { } at ? $" from {Rfc3339.Format(at)} on" : "")}.");
        Now = practised.WatchFrom ?? _next.At;
        if (_lastEvent == default || _next.At - _lastEvent > LongestQuiet)
            Now = _next.At;
        _stage.PassTime(Now);
        Time = new PlayedTime(Now);
        AlarmsBefore = _changes.Count;
        _watching = true;
    }

    public TrainingCase Case { get; }

    public CauseModel Model { get; }

    public JobBook Jobs { get; }

    public PlayedTime Time { get; }

    /// <summary>The recording's time.</summary>
    public Instant Now { get; private set; }

    /// <summary>How long the trainee has watched, in the recording's time without what was leapt over.</summary>
    public TimeSpan Watched => Time.At(Now);

    /// <summary>The recording has come to its end; the trainee may still answer.</summary>
    public bool IsPlayedOut { get; private set; }

    /// <summary>The trainee is done, or has given up.</summary>
    public bool IsOver => _acts.Any(a => a.Act.Kind is PracticeActKind.Finish or PracticeActKind.GiveUp);

    public IReadOnlyList<DoneAct> Acts => _acts;

    /// <summary>All alarm changes of the machine, in order; the first <see cref="AlarmsBefore"/> came before the trainee watched.</summary>
    public IReadOnlyList<AlarmChange> Changes => _changes;

    public int AlarmsBefore { get; }

    public IReadOnlyList<AlarmChange> Standing => _machine.Standing;

    public string? Job => _run.Job;

    /// <summary>Since when a run is under way; null where none is.</summary>
    public Instant? RunSince => _run.Since;

    /// <summary>What is recorded for the job under way.</summary>
    public JobRecord? Record => _run.Job is { } job ? Jobs.Find(job, Now) : null;

    public bool IsBeamOn { get; private set; }

    public ChannelMinutes Minutes { get; } = new();

    /// <summary>The channels heard so far, canonical ones first.</summary>
    public IReadOnlyList<Channel> Channels => [.. _traces.Keys.OrderBy(c => c.Index)];

    public ChannelTrace? Trace(Channel channel) => _traces.GetValueOrDefault(channel);

    public RecordingCounts Counts => _reader.Counts;

    /// <summary>Lets the recording's time pass.</summary>
    /// <exception cref="IOException">The recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">The recording's compression is damaged.</exception>
    public void Advance(TimeSpan by)
    {
        var target = Now + by;
        while (!IsPlayedOut)
        {
            var end = _lastEvent + (_next is null ? AfterTheLast : QuietLivedThrough);
            var isQuiet = _next is null || _next.At - _lastEvent > LongestQuiet;
            if (!isQuiet && _next!.At <= target)
            {
                PlayNext();
                continue;
            }

            if (!isQuiet || target < end)
            {
                PassTime(target);
                return;
            }

            PassTime(end);
            if (_next is null)
            {
                IsPlayedOut = true;
                return;
            }

            target = _next.At + (target - Now);
            Time.Leap(Now, _next.At);
            PlayNext();
        }
    }

    /// <summary>Plays on to the end, for what the trainee did not stay for.</summary>
    public void PlayOut()
    {
        while (!IsPlayedOut)
            Advance(TimeSpan.FromDays(1));
    }

    /// <summary>Does what the trainee asks, now. After the end nothing is done any more.</summary>
    public DoneAct Do(PracticeAct act)
    {
        if (IsOver)
            return new DoneAct(act, Now, "the practice is over", IsTaken: false);
        var done = PracticeAnswers.To(act, this);
        if (done.IsTaken)
            _acts.Add(done);
        return done;
    }

    public void Dispose() => _reader.Dispose();

    internal bool Acknowledge(string condition)
    {
        var changes = _machine.Observe(new AlarmCommand(Case.Machine, Now, AlarmCommandKind.Acknowledge, condition, _by));
        _changes.AddRange(changes);
        return changes.Any(c => c.Condition == condition);
    }

    private void PassTime(Instant until)
    {
        if (until > Now)
            Now = until;
        _stage.PassTime(Now);
        FollowRun();
    }

    private void PlayNext()
    {
        var e = _next!;
        if (_watching && e.At > Now)
            Now = e.At;
        _stage.Play(e);
        _lastEvent = e.At > _lastEvent ? e.At : _lastEvent;
        FollowRun();
        if (e.Kind == RecordingEventKind.Telemetry && e.Machine == Case.Machine)
            Keep(e);
        ReadNext();
    }

    private void Keep(RecordingEvent e)
    {
        IsBeamOn = BeamIn(e) ?? IsBeamOn;
        foreach (var (channel, value) in e.Values)
        {
            if (!_traces.TryGetValue(channel, out var trace))
                _traces[channel] = trace = new ChannelTrace();
            var inRun = _run.Since is not null;
            trace.Add(e.At, value, isDrawn: ChannelMinutes.Counts(channel, inRun, IsBeamOn));
            Minutes.Take(channel, e.At, value, inRun, IsBeamOn);
        }
    }

    private static bool? BeamIn(RecordingEvent e)
    {
        double? current = null;
        foreach (var (channel, value) in e.Values)
        {
            if (channel == Channel.Lasing)
                return value >= 0.5;
            if (channel == Channel.TubeCurrent)
                current = value;
        }

        return current is { } mA ? mA > 1 : null;
    }

    private void FollowRun()
    {
        var present = _machine.Run;
        if (_run == (present?.Job, present?.Since))
            return;
        _run = (present?.Job, present?.Since);
        Minutes.Begin(_run.Job);
    }

    // Job records belong to no time: they are known as soon as they are met.
    private void ReadNext()
    {
        while ((_next = _reader.Read()) is { } e)
        {
            if (e.Kind == RecordingEventKind.JobRecord)
                _stage.Play(e);
            else if (e.Kind != RecordingEventKind.Alarm)
                return;
        }
    }
}
