using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Monitoring;

/// <summary>One machine: its samples are admitted, believed, folded into a reading; models learn, rules judge, alarms follow.</summary>
/// <remarks>
/// Pure: fed samples, events and ticks, it answers with alarm changes; time is theirs. The live agent, a replay and the tests
/// run the same code. Not safe for several threads. Lists it returns are the caller's to keep.
/// <para>
/// A sample goes two ways. What must be said at once (air, limits, sensor faults) is judged as it comes, by the latest values. What
/// is judged over minutes (tube current) waits five seconds in <see cref="SampleOrder"/>, so that late samples stand in their place.
/// </para>
/// </remarks>
public sealed class MachineWatch
{
    /// <summary>What is answered where nothing has changed: always this one, so that a caller can tell it by reference.</summary>
    public static readonly IReadOnlyList<AlarmChange> Nothing = [];

    private static readonly TimeSpan QuietBeforeAllIsReleased = TimeSpan.FromSeconds(5);

    private readonly MonitorOptions _options;
    private readonly JobBook _jobs;
    private readonly Reading _reading = new();
    private readonly SampleOrder _order = new();
    private readonly QuietTime _quiet = new();
    private readonly RunTracker _runs;
    private readonly MachineModels _models;
    private readonly SampleIntake _intake;
    private readonly Rule[] _rules;
    private readonly AskedRule[][] _asked;
    private readonly AlarmBoard _board;
    private readonly AnnotatedLearning _learning;
    private readonly List<PendingRun> _pendingRuns = [];
    private Run? _runOfTube;
    private long _commandsOfNoUse;

    public MachineWatch(string machine, MonitorOptions options, JobBook jobs)
    {
        (Machine, _options, _jobs) = (machine, options, jobs);
        _runs = new RunTracker(machine, options.Runs, jobs);
        _models = new MachineModels(options, jobs);
        _intake = new SampleIntake(_reading, _order, _models, options.Runs.BeamOnMilliamps);
        _rules = RuleBook.Make(_models, options);
        _asked = [.. Enum.GetValues<RuleMoment>().Select(AskedAt)];
        _board = new AlarmBoard(machine, options.Alarms, _rules);
        _learning = new AnnotatedLearning(_models.VisitLearned, VisitLearnedOfTube);
    }

    public string Machine { get; }

    /// <summary>What was done to the machine, part by part, and the beam hours since.</summary>
    public ServiceLedger Ledger => _models.Ledger;

    /// <summary>The tube's current against its baseline, as the rules see it.</summary>
    internal TubeHealth Tube => _models.Tube;

    /// <summary>The run under way; null where none is.</summary>
    public Run? Run => _reading.Run;

    /// <summary>The newest sample time seen; null before the first.</summary>
    public Instant? Newest => _order.Newest;

    /// <summary>The alarms that are not normal, newest state each.</summary>
    public IReadOnlyList<AlarmChange> Standing => _board.Standing;

    /// <summary>Grows whenever <see cref="Standing"/> may have become another, and now and then where it has not.</summary>
    public int StandingVersion => _board.Version;

    public bool HasInferredRuns => _runs.HasInferred;

    /// <summary>What each rule sees and lacks, the last value and time of each channel, counts of what was not judged.</summary>
    public MachineStatus Status => MachineStatus.Of(Machine, _reading, _rules, new Dictionary<string, long>
    {
        ["late"] = _intake.Late,
        ["duplicate"] = _intake.Duplicates,
        ["implausible"] = _models.Sensors.Implausible,
        ["job_start_without_end"] = _runs.StartsWithoutEnd,
        ["job_end_without_start"] = _runs.EndsWithoutStart,
        ["command_of_no_use"] = _commandsOfNoUse,
    });

    /// <summary>Takes values that share one instant. In time order, or late by up to 5 s; later ones are counted, not judged.</summary>
    public IReadOnlyList<AlarmChange> Observe(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        if (_learning.HasAny && !(at < Newest))
            _learning.Follow(at);
        var fresh = _intake.Take(at, values);
        if (fresh.Bits != 0)
            JudgeAtOnce(fresh, at);
        JudgeInOrder(all: false);
        return _board.TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(JobEvent change)
    {
        if (change.Inferred)
            return Nothing;
        if (change.At > _reading.At)
            _reading.At = change.At;
        if (_runs.Observe(change))
            ChangeRun(change.At);
        return _board.TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(ServiceEvent service)
    {
        if (Annotation.IsOne(service))
        {
            // Once its time has been seen it was learned from, and cannot be unlearned: the next start learns anew (see LeftOutUntil).
            if (Newest is not { } newest || service.At >= newest)
                _learning.Take(service);
            return Nothing;
        }

        var newTube = string.Equals(service.Part, "tube", StringComparison.OrdinalIgnoreCase) && ServiceLedger.Replaces(service.Action);
        Ledger.Observe(service);
        if (newTube)
            Reset(RuleMoment.Upkeep);
        Ask(RuleMoment.Upkeep, ChannelSet.Tick, service.At > _reading.At ? service.At : _reading.At);
        if (newTube || LoopUpkeep.ChangesTheLoop(service))
            RestartLoop(service.At);
        if (newTube)
            RestartTube(service.At);
        return _board.TakeChanges();
    }

    /// <summary>A sensor said itself that it has failed (a 4–20 mA loop outside its range).</summary>
    public IReadOnlyList<AlarmChange> ObserveSensorFailure(Channel channel, Instant at)
    {
        if (at > _reading.At)
            _reading.At = at;
        _models.Sensors.ObserveFailure(_reading, channel, at);
        _reading.Fresh = default;
        Ask(RuleMoment.AtOnce, ChannelSet.Of(channel), at);
        return _board.TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(AlarmCommand command)
    {
        if (!_board.Apply(command))
            _commandsOfNoUse++;
        return _board.TakeChanges();
    }

    /// <summary>A job's recorded values have changed in the book.</summary>
    public IReadOnlyList<AlarmChange> RecordsChanged()
    {
        if (_runs.Refresh())
            ChangeRun(_reading.At);
        return _board.TakeChanges();
    }

    /// <summary>Tells the watch that time has passed; silence can be judged only so.</summary>
    public IReadOnlyList<AlarmChange> Tick(Instant now)
    {
        var ticksWereMissing = _quiet.Tick(now, Newest);
        _reading.QuietSeconds = _quiet.Lasted.TotalSeconds;
        if (now > _reading.At)
            _reading.At = now;
        _reading.Fresh = default;
        if (!ticksWereMissing)
            _models.Sensors.Tick(_reading);
        if (_runs.Observe(_reading))
            ChangeRun(now);
        Ask(RuleMoment.AtOnce, ChannelSet.Tick, now);
        Ask(RuleMoment.Upkeep, ChannelSet.Tick, now);
        if (_quiet.Lasted >= QuietBeforeAllIsReleased)
            JudgeInOrder(all: true);
        _board.Tick(now);
        return _board.TakeChanges();
    }

    /// <summary>Runs that began or ended without a job event since the last call, for the store.</summary>
    public IReadOnlyList<JobEvent> TakeInferredRuns() => _runs.TakeInferred();

    /// <summary>Takes up what was announced before a restart and came of ticks, which nobody shows it again; the newest change of each condition.</summary>
    public void Resume(IEnumerable<AlarmChange> announced) => _board.Resume(announced);

    /// <summary>Tells by one number which spans this watch leaves out of what it learns; see <see cref="AnnotationBook.FingerprintUntil"/>.</summary>
    public long LeftOutUntil(Instant until) => _learning.FingerprintUntil(until);

    /// <summary>What is known of the machine now, for a diagnosis.</summary>
    /// <param name="job">The job whose record to compare with; null: that of the last run.</param>
    public MachineSnapshot TakeSnapshot(string? job = null) => new SnapshotTaking(_reading, _models, _board, _options).Take(Machine, Newest, _jobs, job);

    /// <summary>All state: a watch restored from it goes on as if it had never stopped.</summary>
    /// <param name="shift">The clock that stamps the samples has stepped: the state as it would be, had it always gone so.</param>
    public byte[] Save(ClockShift? shift = null) => StateVisitor.Save(Visit, shift);

    /// <summary>As <see cref="Save(ClockShift?)"/>, into room that may be used again and again.</summary>
    /// <param name="into">Holds the state afterwards, and nothing else.</param>
    public void Save(List<byte> into) => StateVisitor.Save(Visit, into);

    /// <summary>
    /// Takes up the state of <see cref="Save(ClockShift?)"/>, in a watch that has seen nothing yet. False where it is of another version or
    /// damaged: then this watch must be thrown away, and a new one fed the stored samples.
    /// </summary>
    public bool TryRestore(ReadOnlySpan<byte> state) => StateVisitor.TryLoad(state, Visit);

    /// <summary>All that was learned, in bytes: what an annotated span must not change.</summary>
    internal (byte[] Learned, byte[] OfTube) Learned => (StateVisitor.Save(_models.VisitLearned), StateVisitor.Save(VisitLearnedOfTube));

    private void JudgeAtOnce(ChannelSet fresh, Instant at)
    {
        var signs = fresh;
        if (_runs.Observe(_reading))
        {
            TakeRun(_runs.Current?.Since ?? at);
            signs |= ChannelSet.RunChange;
        }

        _models.Follow(_reading, signs);
        _models.Digest.Follow(_reading, fresh);
        Ask(RuleMoment.AtOnce, signs, at);
    }

    private void ChangeRun(Instant at)
    {
        TakeRun(at);
        _reading.Fresh = default;
        _models.Follow(_reading, ChannelSet.RunChange);
        Ask(RuleMoment.AtOnce, ChannelSet.RunChange, at);
    }

    private void TakeRun(Instant since)
    {
        _reading.Run = _runs.Current;
        _pendingRuns.Add(new PendingRun { At = since, Run = _runs.Current });
    }

    private AskedRule[] AskedAt(RuleMoment moment) =>
        [.. _rules.Index().Where(r => r.Item.Sheet.Moment == moment).Select(r => new AskedRule(r.Index, r.Item, r.Item.Sheet.Triggers))];

    private void Ask(RuleMoment moment, ChannelSet signs, Instant at)
    {
        foreach (ref readonly var asked in _asked[(int)moment].AsSpan())
        {
            if (asked.Triggers.Overlaps(signs))
                _board.Apply(asked.Place, asked.Rule, _reading, at, asked.Rule.Update(_reading));
        }
    }

    private void JudgeInOrder(bool all)
    {
        for (var due = _order.Release(all); due.Length != 0; due = _order.Release(all))
        {
            foreach (ref readonly var held in due)
            {
                BeginRunsOfTube(held.At);
                if (_learning.HasAny && _learning.FollowOfTube(held.At))
                    Tube.Begin(_runOfTube);
                var believed = held.Channels & ~_reading.Faulty;
                if (believed != 0)
                    FollowTube(in held, believed);
            }
        }
    }

    // Of one instant, what says whether the beam is on comes before what the beam does.
    private void FollowTube(in HeldRow held, uint channels)
    {
        var at = held.At;
        Tube.PassTime(at);
        if ((channels & (1u << CanonicalIndex.Lasing)) != 0 && Tube.TakeLasing(at, held.Lasing))
            JudgeTube(at);
        if ((channels & (1u << CanonicalIndex.Power)) != 0)
            Tube.TakePower(at, held.Power);
        if ((channels & (1u << CanonicalIndex.TubeCurrent)) != 0 && Tube.TakeCurrent(at, held.TubeCurrent))
            JudgeTube(at);
        if ((channels & (1u << CanonicalIndex.CoolantIn)) != 0)
            Tube.TakeCoolant(at, held.CoolantIn);
    }

    private void JudgeTube(Instant at)
    {
        Ask(RuleMoment.InOrder, ChannelSet.Of(Channel.TubeCurrent), at);
        _models.Rise.CurrentIsDoubted = _board[Conditions.TubeCurrentSag].IsBreach || _board[Conditions.TubeCurrentStep].IsBreach;
    }

    private void BeginRunsOfTube(Instant at)
    {
        while (_pendingRuns.Count > 0 && _pendingRuns[0].At <= at)
        {
            _runOfTube = _pendingRuns[0].Run;
            Tube.Begin(_runOfTube);
            _pendingRuns.RemoveAt(0);
        }
    }

    private void RestartLoop(Instant at)
    {
        _models.RestartLoop();
        _learning.Renew();
        _board.Clear(at, "the coolant loop was worked on: its normal is being learned anew", Conditions.CoolantDrift, Conditions.CoolantFlowLow);
    }

    private void RestartTube(Instant at)
    {
        JudgeInOrder(all: true);
        Tube.Restart(at);
        Reset(RuleMoment.InOrder);
        _learning.RenewOfTube();
        _board.Clear(at, "the tube was replaced: a new baseline is being learned", Conditions.TubeCurrentSag, Conditions.TubeCurrentStep);
    }

    private void Reset(RuleMoment moment)
    {
        foreach (var rule in _rules.Where(rule => rule.Sheet.Moment == moment))
            rule.Reset();
    }

    private void VisitLearnedOfTube(StateVisitor state)
    {
        Tube.Visit(state);
        foreach (var rule in _rules.Where(rule => rule.Sheet.Moment == RuleMoment.InOrder))
            rule.Visit(state);
    }

    private void Visit(StateVisitor state)
    {
        // A state of other rules is refused whole, and learned anew from what is stored.
        var rules = string.Join(' ', Conditions.All);
        state.Walk(ref rules);
        if (rules != string.Join(' ', Conditions.All))
            StateVisitor.Refuse();
        _reading.Visit(state);
        _order.Visit(state);
        _runs.Visit(state);
        _models.Visit(state);
        foreach (var rule in _rules.Where(rule => rule is not ChannelLimit))
            rule.Visit(state);
        _board.Visit(state);
        state.Walk(_pendingRuns, () => new PendingRun(), pending => pending.Visit(state, _jobs));
        _quiet.Visit(state);
        _intake.Visit(state);
        state.Walk(ref _commandsOfNoUse);
        if (state.IsLoading)
            _reading.Run = _runs.Current;
        RunTracker.VisitRun(state, ref _runOfTube, _jobs);
        _learning.Visit(state);
    }

    private readonly record struct AskedRule(int Place, Rule Rule, ChannelSet Triggers);
}
