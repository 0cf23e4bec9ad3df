using System.Numerics;
using System.Runtime.CompilerServices;
using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Life;
using LaserWatch.Models;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Monitoring;

/// <summary>One machine: everything known of it, and the rules that judge it.</summary>
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
    private static readonly TimeSpan LongestTick = TimeSpan.FromMinutes(2);
    private static readonly TimeSpan LongestSettling = Dependencies.All.Max(d => d.Settling);

    // The first of Ask, and of them one is all that a tick asks.
    private const uint RulesOfAir = 0b1111;

    // These go by the heat the tube gives, which is worked out once for all.
    private const uint RulesOfHeat = (1u << 5) | (1u << 8) | (1u << 9);

    // What triggers which rule is the same in every watch.
    private static uint[]? _rulesOfSignOfAll;

    private readonly JobBook _jobs;
    private readonly Reading _reading = new();
    private readonly SampleOrder _order = new();
    private readonly RunTracker _runs;
    private readonly SensorHabits _sensors;
    private readonly AirLine _air;
    private readonly AirBehaviour _airBehaviour;
    private readonly TubeHealth _tube;
    private readonly RunDigest _digest = new();
    private readonly TubeCurrentSag _sag;
    private readonly TubeCurrentStep _step;
    private readonly CoolantFlowLow _coolantFlow;
    private readonly CoolantDrift _coolantDrift;
    private readonly AirPressureLost _airLost;
    private readonly AirPressureLow _airLow;
    private readonly AirPathRestricted _airRestricted;
    private readonly WaterTrapDue _waterTrap;
    private readonly TubeCurrentHigh _currentHigh;
    private readonly CoolantLimit _coolantHot;
    private readonly CoolantLimit _coolantCold;
    private readonly CoolantTimeToLimit _coolantCourse;
    private readonly CondensationRisk _condensation;
    private readonly Judge[] _judges;
    private readonly uint[] _rulesOfSign;
    private readonly uint _rulesOfTick;
    private readonly Judge[] _sensorJudges;
    private readonly uint _sensorMarks;
    private readonly Judge[] _tubeJudges;
    private readonly Judge[] _upkeepJudges;
    private readonly ServiceLedger _ledger = new();
    private readonly ServiceDue _serviceDue;
    private readonly TubeLife _life;
    private readonly Dictionary<string, Judge> _limits;
    private readonly Dictionary<string, AlarmLatch> _latches = new(StringComparer.Ordinal);
    private readonly AlarmLatch[] _latchesInOrder;
    private readonly Effect[] _effects;
    private readonly AlarmLatch _sagLatch;
    private readonly AlarmLatch _stepLatch;
    private readonly Dictionary<string, Channel> _heard = new(StringComparer.Ordinal);
    private readonly List<PendingRun> _pendingRuns = [];
    private readonly AnnotationBook _annotations = new();
    private readonly LearningPause _pause;
    private readonly LearningPause _tubePause;
    private readonly MonitorOptions _options;
    private readonly RunOptions _runOptions;
    private Run? _runOfTube;
    private Instant? _lastTick;
    private Instant? _tickAtNewest;
    private Instant? _newestAtTick;
    private long _late;
    private long _duplicates;
    private long _commandsOfNoUse;
    private bool _isAnnotated;
    private List<AlarmChange>? _changes;

    // Which rules' latches may answer to a verdict that is no breach; the others need not be asked.
    private uint _restless = uint.MaxValue;

    // Which rules' latches hold a breach that a further verdict of the same grade does not change.
    private uint _standing;

    // What was fresh last is mostly fresh again: the rules that it triggers.
    private ChannelSet _signsThen;
    private uint _rulesThen;

    // Ticks concern latches only after one has stirred, or while one waits for time to pass.
    private bool _latchesWait = true;

    public MachineWatch(string machine, MonitorOptions options, JobBook jobs)
    {
        Machine = machine;
        _jobs = jobs;
        _options = options;
        _runOptions = options.Runs;
        _runs = new RunTracker(machine, options.Runs, jobs);
        _sensors = new SensorHabits(options.Sensors);
        _air = new AirLine(options.AirPressure);
        _airBehaviour = new AirBehaviour(_air, options.AirPressure);
        _tube = new TubeHealth(options.TubeCurrent, options.Runs, jobs);
        _sag = new TubeCurrentSag(_tube, _ledger, options.TubeCurrent, options.TubeLife);
        _step = new TubeCurrentStep(_tube, _ledger, options.TubeCurrent, options.TubeLife);

        _coolantFlow = new CoolantFlowLow(options.Coolant);
        _coolantDrift = new CoolantDrift(options.Coolant, _coolantFlow.Rise);

        _airLost = new AirPressureLost(_air, options.AirPressure);
        _airLow = new AirPressureLow(_air, _airBehaviour, options.AirPressure);
        _airRestricted = new AirPathRestricted(_air, _airBehaviour, options.AirPressure);
        _waterTrap = new WaterTrapDue(_ledger, options.WaterTrap);
        _currentHigh = new TubeCurrentHigh(options.TubeCurrent);
        _coolantHot = new CoolantLimit(options.Coolant, hot: true);
        _coolantCold = new CoolantLimit(options.Coolant, hot: false);
        _coolantCourse = new CoolantTimeToLimit(options.Coolant, _coolantDrift.Loop);
        _condensation = new CondensationRisk(options.Coolant);

        // In the order of Ask.
        _judges =
        [
            Judged(_airLost), Judged(_airLow), Judged(_airRestricted), Judged(_waterTrap), Judged(_currentHigh), Judged(_coolantFlow),
            Judged(_coolantHot), Judged(_coolantCold), Judged(_coolantDrift), Judged(_coolantCourse), Judged(_condensation),
        ];
        _rulesOfSign = _rulesOfSignOfAll ??= RulesOfSign(_judges);
        _rulesOfTick = RulesOf(ChannelSet.Tick);
        _sensorJudges =
        [
            Judged(new SensorFault(Conditions.SensorSilent, ChannelFault.Silent, _sensors)),
            Judged(new SensorFault(Conditions.SensorStuck, ChannelFault.Stuck, _sensors)),
            Judged(new SensorFault(Conditions.SensorImplausible, ChannelFault.Implausible, _sensors)),
        ];
        foreach (var judge in _sensorJudges)
            _sensorMarks |= judge.Mark;
        // The step before the sag: it says more.
        _tubeJudges = [Judged(_step), Judged(_sag)];
        _life = new TubeLife(_ledger, _tube, options.TubeLife);
        _serviceDue = new ServiceDue(_ledger, options.Upkeep);
        _upkeepJudges = [Judged(_serviceDue), Judged(_life)];
        _effects =
        [
            .. Dependencies.All.GroupBy(d => d.Effect).Select(group => new Effect(_latches[group.Key], [.. group.Select(d => new Explanation(_latches[d.Cause], d, d.Settling))])),
        ];
        (_sagLatch, _stepLatch) = (_latches[Conditions.TubeCurrentSag], _latches[Conditions.TubeCurrentStep]);
        _pause = new LearningPause(VisitLearned);
        _tubePause = new LearningPause(VisitLearnedOfTube);
        _limits = options.Limits.ToDictionary(
            pair => pair.Key, pair => Judged(new ChannelLimit(pair.Key, pair.Value)), StringComparer.Ordinal);
        _latchesInOrder = [.. _latches.Values];
    }

    public string Machine { get; }

    /// <summary>What was done to the machine, part by part, and the beam hours since.</summary>
    public ServiceLedger Ledger => _ledger;

    /// <summary>The tube's current against its baseline, as the rules see it.</summary>
    internal TubeHealth Tube => _tube;

    /// <summary>The run under way; null where none is.</summary>
    public Run? Run => _reading.Run;

    /// <summary>The newest sample time seen; null before the first.</summary>
    public Instant? Newest => _order.Newest;

    /// <summary>The alarms that are not normal, newest state each.</summary>
    public IReadOnlyList<AlarmChange> Standing =>
        [.. _latches.Values.Where(l => l.State != AlarmState.Normal && l.Last is not null).Select(l => l.Last!)];

    /// <summary>Grows whenever <see cref="Standing"/> may have become another, and now and then where it has not.</summary>
    public int StandingVersion { get; private set; }

    /// <summary>Takes up what was announced before a restart and came of ticks, which nobody shows it again; the newest change of each condition.</summary>
    public void TakeUp(IEnumerable<AlarmChange> announced)
    {
        foreach (var change in announced)
        {
            if (_latches.TryGetValue(change.Condition, out var latch))
                latch.TakeUp(change);
        }

        LookAtAllLatches();
    }

    /// <summary>Tells by one number which spans this watch leaves out of what it learns; see <see cref="AnnotationBook.FingerprintUntil"/>.</summary>
    public long LeftOutUntil(Instant until) => _annotations.FingerprintUntil(until);

    /// <summary>All that was learned, in bytes: what an annotated span must not change.</summary>
    internal (byte[] Learned, byte[] OfTube) Learned => (StateVisitor.Save(VisitLearned), StateVisitor.Save(VisitLearnedOfTube));

    /// <summary>Takes values that share one instant. In time order, or late by up to 5 s; later ones are counted, not judged.</summary>
    public IReadOnlyList<AlarmChange> Observe(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        if (_isAnnotated)
            FollowAnnotations(at);
        var fresh = _order.TryAdmit(at, values) ? TakeTogether(at, values) : TakeSingly(at, values);
        if (at > _reading.At)
            _reading.At = at;
        _reading.QuietSeconds = 0;
        FollowBeam(fresh, at);
        _ledger.Follow(at, SeesBeam);
        _reading.Fresh = fresh;
        if (fresh.Bits != 0)
            JudgeNow(fresh, at);
        Release(all: false);
        return TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(JobEvent change)
    {
        if (change.Inferred)
            return Nothing;
        if (change.At > _reading.At)
            _reading.At = change.At;
        if (_runs.Observe(change))
            RunChanged(change.At);
        return TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(ServiceEvent service)
    {
        if (Annotation.IsOne(service))
        {
            // Once its time has been seen it was learned from, and cannot be unlearned: the next start learns anew (see LeftOutUntil).
            if (Newest is not { } newest || service.At >= newest)
                _annotations.Take(service);
            _isAnnotated = _annotations.HasAny;
            return Nothing;
        }

        var newTube = string.Equals(service.Part, "tube", StringComparison.OrdinalIgnoreCase) && ServiceLedger.Replaces(service.Action);
        _ledger.Observe(service);
        if (newTube)
            _life.Reset();
        AskUpkeep(service.At > _reading.At ? service.At : _reading.At);
        if (newTube || LoopUpkeep.ChangesTheLoop(service))
            RestartLoop(service.At);
        if (!newTube)
            return TakeChanges();
        Release(all: true);
        _tube.Restart(service.At);
        _sag.Reset();
        _step.Reset();
        _tubePause.Renew();
        foreach (var condition in (ReadOnlySpan<string>)[Conditions.TubeCurrentSag, Conditions.TubeCurrentStep])
            Add(_latches[condition].Clear(service.At, "the tube was replaced: a new baseline is being learned"));
        LookAtAllLatches();
        return TakeChanges();
    }

    /// <summary>A sensor said itself that it has failed (a 4–20 mA loop outside its range).</summary>
    public IReadOnlyList<AlarmChange> ObserveSensorFailure(Channel channel, Instant at)
    {
        if (at > _reading.At)
            _reading.At = at;
        _sensors.ObserveFailure(_reading, channel, at);
        _reading.Fresh = default;
        RunJudges(ChannelSet.Of(channel), at);
        return TakeChanges();
    }

    public IReadOnlyList<AlarmChange> Observe(AlarmCommand command)
    {
        var change = _latches.TryGetValue(command.Condition, out var latch) ? latch.Apply(command) : null;
        if (change is null)
            _commandsOfNoUse++;
        LookAtAllLatches();
        Add(change);
        Relate(command.At);
        return TakeChanges();
    }

    /// <summary>A job's recorded values have changed in the book.</summary>
    public IReadOnlyList<AlarmChange> RecordsChanged()
    {
        if (_runs.Refresh())
            RunChanged(_reading.At);
        return TakeChanges();
    }

    /// <summary>Tells the watch that time has passed; silence can be judged only so.</summary>
    public IReadOnlyList<AlarmChange> Tick(Instant now)
    {
        // Sensors' clocks may differ from ours, so quiet is measured from tick to tick; and where ticks themselves were missing,
        // nobody was listening.
        var deaf = _lastTick is { } last && now - last > LongestTick;
        _lastTick = now;
        if (_newestAtTick != Newest || _tickAtNewest is null || deaf)
            (_newestAtTick, _tickAtNewest) = (Newest, now);
        var quiet = now - _tickAtNewest.Value;
        _reading.QuietSeconds = quiet == TimeSpan.Zero ? 0 : quiet.TotalSeconds;
        if (now > _reading.At)
            _reading.At = now;
        _reading.Fresh = default;
        if (!deaf)
            _sensors.Tick(_reading);
        if (_runs.Observe(_reading))
            RunChanged(now);
        // Not as other signs: what was fresh last is to be remembered over a tick.
        Ask(_rulesOfTick, now);
        JudgeSensors(ChannelSet.Tick, now);
        AskUpkeep(now);

        if (quiet >= QuietBeforeAllIsReleased)
            Release(all: true);

        if (_latchesWait)
            TickLatches(now);
        return TakeChanges();
    }

    public bool HasInferredRuns => _runs.HasInferred;

    /// <summary>Runs that began or ended without a job event since the last call, for the store.</summary>
    public IReadOnlyList<JobEvent> TakeInferredRuns() => _runs.TakeInferred();

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

    /// <summary>What each rule sees and lacks, the last value and time of each channel, counts of what was not judged.</summary>
    public MachineStatus Status => new(
        Machine,
        _reading.Run?.Job,
        _reading.Run?.Since,
        [.. Channel.Canonical.Where(_reading.Knows).Select(c => new ChannelStatus(
            c.Name, c.Unit, _reading.TimeOf(c), _reading[c],
            _reading.FaultOf(c) == ChannelFault.None ? null : Reading.Name(_reading.FaultOf(c))))],
        RulesNow(),
        new Dictionary<string, long>
        {
            ["late"] = _late,
            ["duplicate"] = _duplicates,
            ["implausible"] = _sensors.Implausible,
            ["job_start_without_end"] = _runs.StartsWithoutEnd,
            ["job_end_without_start"] = _runs.EndsWithoutStart,
            ["command_of_no_use"] = _commandsOfNoUse,
        });

    /// <summary>Plain loops: a shop of a thousand machines asks a hundred times a second.</summary>
    private RuleStatus[] RulesNow()
    {
        var rules = new RuleStatus[_judges.Length + _sensorJudges.Length + _tubeJudges.Length + _upkeepJudges.Length + _limits.Count];
        var count = 0;
        foreach (var judges in (ReadOnlySpan<Judge[]>)[_judges, _sensorJudges, _tubeJudges, _upkeepJudges])
        {
            foreach (var judge in judges)
                rules[count++] = Now(judge.Detector);
        }

        foreach (var judge in _limits.Values)
            rules[count++] = Now(judge.Detector);
        return rules;

        RuleStatus Now(IDetector detector) => new(detector.Condition, NamesOf(detector.Triggers.CanonicalBits & _reading.Good), detector.Lacks(_reading));
    }

    private static string[] NamesOf(uint canonical)
    {
        var names = new string[BitOperations.PopCount(canonical)];
        for (var i = 0; canonical != 0; canonical &= canonical - 1)
            names[i++] = Channel.Canonical[BitOperations.TrailingZeroCount(canonical)].Name;
        return names;
    }

    private void RestartLoop(Instant at)
    {
        _coolantDrift.Loop.Restart();
        _coolantFlow.Rise.Restart();
        _pause.Renew();
        foreach (var condition in (ReadOnlySpan<string>)[Conditions.CoolantDrift, Conditions.CoolantFlowLow])
            Add(_latches[condition].Clear(at, "the coolant loop was worked on: its normal is being learned anew"));
        LookAtAllLatches();
    }

    /// <summary>What is known of the machine now, for a diagnosis.</summary>
    /// <param name="job">The job whose record to compare with; null: that of the last run.</param>
    public MachineSnapshot Look(string? job = null)
    {
        var began = _digest.Began;
        var name = job ?? _digest.Job;
        var record = name is null ? null : _jobs.Find(name, began ?? _reading.At);
        var tube = LookAtTube(began);
        var raster = _digest.Job is { } last && _jobs.Find(last, began ?? _reading.At)?.Mode == CutMode.Raster;
        return new MachineSnapshot(
            Machine, Newest, _options, record,
            began is { } since ? new LastRun(_digest.Job, since, _digest.Last, raster) : null,
            [.. Channel.Canonical.Where(_reading.Knows).Select(Look)],
            [.. _latches.Values.Where(l => l.Raised is not null).Select(l => new AlarmLook(l.Raised!, l.IsBreach))
                .Where(a => a.Stands || (began is { } start && a.Raised.Time >= start))],
            tube, [.. _ledger.Parts.Select(Look)], _ledger.TestCuts, OpinionsOfTube(tube));
    }

    // The blocks of the last run alone: those before were of a good cut.
    private TubeLook? LookAtTube(Instant? began)
    {
        if (_tube.AtLastPower is not { } window)
            return null;
        var blocks = 0;
        while (blocks < window.Count && window.Time(blocks) >= began)
            blocks++;
        return window.Recent(blocks, least: 1) is { } recent ? new TubeLook(recent.Ratio, recent.Error, _tube.LastPower) : null;
    }

    // Before it is an alarm, a fall has its likely causes too.
    private IReadOnlyList<Opinion> OpinionsOfTube(TubeLook? tube)
    {
        if (tube is null || tube.Ratio > 1 - (0.6 * _options.TubeCurrent.Sag) || _latches[Conditions.TubeCurrentSag].State != AlarmState.Normal
            || _latches[Conditions.TubeCurrentStep].State != AlarmState.Normal)
            return [];
        var causes = TubeCauses.Rank(TubeWords.Symptoms(_tube, _ledger, _options.TubeLife, 1 - tube.Ratio, _tube.Course.Present()));
        return [new Opinion("the course of the tube's current ranks it so", causes.ToDictionary(c => c.Name, c => c.Weight))];
    }

    // Beam before the watch began was not counted, and without a sign of the beam there is nothing to count by.
    private ServedPart Look(PartUpkeep part) => new(
        part.Part, part.LastAction, _ledger.Began is { } began && part.At >= began && (SeesAnyBeam || part.BeamHoursSince > 0) ? part.BeamHoursSince : null,
        part.DaysSince(_reading.At));

    private bool SeesAnyBeam => _reading.Knows(CanonicalIndex.Lasing) || _reading.Knows(CanonicalIndex.TubeCurrent) || _reading.Knows(CanonicalIndex.Runtime);

    private ChannelLook Look(Channel channel)
    {
        var (run, usual) = (_digest.Of(channel), _digest.Usual(channel));
        return new ChannelLook(
            channel, _reading[channel], _reading.TimeOf(channel),
            _reading.FaultOf(channel) == ChannelFault.None ? null : Reading.Name(_reading.FaultOf(channel)),
            run?.Median, run?.Deviation, run?.Samples ?? 0, usual?.Value, usual?.Runs ?? 0);
    }

    private Judge Judged(IDetector detector)
    {
        var latch = new AlarmLatch(Machine, detector.Condition, _options.Alarms);
        var mark = _latches.Count < 32 ? 1u << _latches.Count : 0;
        _latches.Add(detector.Condition, latch);
        return new Judge(detector, latch, detector.Triggers, mark);
    }

    private ChannelSet TakeTogether(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        var fresh = _sensors.Observe(_reading, at, values);
        if ((fresh & (1u << CanonicalIndex.Runtime)) != 0)
            _ledger.ReadMeter(at, _reading[CanonicalIndex.Runtime]);
        return new(fresh);
    }

    private ChannelSet TakeSingly(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        var fresh = default(ChannelSet);
        var beamOn = _reading.BeamOn == true;
        foreach (ref readonly var one in values)
        {
            var (channel, value) = (one.Channel.Index, one.Value);
            switch (_order.Admit(channel, at, value))
            {
                case Admission.Fresh:
                    if (channel >= Channel.CanonicalCount)
                        TakeOther(one.Channel, at, value);
                    else if (!Take(channel, at, value, beamOn))
                        break;
                    fresh = fresh.With(one.Channel);
                    break;
                case Admission.Duplicate:
                    _duplicates++;
                    break;
                case Admission.TooLate:
                    _late++;
                    break;
            }
        }

        return fresh;
    }

    private bool Take(int channel, Instant at, double value, bool beamOn)
    {
        var beamSeconds = beamOn && _reading.Knows(channel) ? SensorHabits.SecondsLit(at.SecondsSince(_reading.TimeOf(channel))) : 0;
        if (!_sensors.Observe(_reading, channel, at, value, beamSeconds))
            return false;
        _reading.Set(channel, at, value);
        if (channel == CanonicalIndex.Runtime)
            _ledger.ReadMeter(at, value);
        return true;
    }

    private void TakeOther(Channel channel, Instant at, double value)
    {
        _reading.SetOther(channel, at, value);
        if (_limits.Count > 0)
            _heard.TryAdd(channel.Name, channel);
    }

    // What is judged at once goes by the newest time, the tube by that of the samples it is given in order.
    private void FollowAnnotations(Instant at)
    {
        if (!(at < Newest))
            _pause.Follow(_annotations.LeavesOut(at));
    }

    private void FollowAnnotationsOfTube(Instant at)
    {
        if (_tubePause.Follow(_annotations.LeavesOut(at)))
            _tube.Begin(_runOfTube);
    }

    private void VisitLearned(StateVisitor state)
    {
        _airBehaviour.Visit(state);
        _digest.Visit(state);
        _coolantFlow.Visit(state);
        _coolantDrift.Visit(state);
    }

    private void VisitLearnedOfTube(StateVisitor state)
    {
        _tube.Visit(state);
        foreach (var judge in _tubeJudges)
            judge.Detector.Visit(state);
    }

    private bool SeesBeam => _reading.Has(CanonicalIndex.Lasing)
        ? _reading.BeamOn == true
        : _reading.Has(CanonicalIndex.TubeCurrent) && _reading[CanonicalIndex.TubeCurrent] > _runOptions.BeamOnMilliamps;

    private void FollowBeam(ChannelSet fresh, Instant at)
    {
        bool? on;
        if (fresh.Has(Channel.Lasing))
            on = _reading[CanonicalIndex.Lasing] >= 0.5;
        else if (fresh.Has(Channel.TubeCurrent) && !_reading.Knows(CanonicalIndex.Lasing))
            on = _reading[CanonicalIndex.TubeCurrent] > _runOptions.BeamOnMilliamps;
        else
            on = _reading.BeamOn;
        if (on != _reading.BeamOn)
        {
            _reading.BeamOn = on;
            _reading.BeamSince = at;
        }

        if (on == true && (_reading.BeamLastOn is null || at > _reading.BeamLastOn))
            _reading.BeamLastOn = at;
    }

    private void JudgeNow(ChannelSet fresh, Instant at)
    {
        var signs = fresh;
        if (_runs.Observe(_reading))
        {
            ApplyRun(_runs.Current?.Since ?? at);
            signs |= ChannelSet.RunChange;
        }

        if (fresh.Has(Channel.AirPressure) || signs.Overlaps(ChannelSet.RunChange))
            _air.Follow(_reading);
        if (fresh.Has(Channel.AirPressure) || fresh.Has(Channel.AirFlow) || signs.Overlaps(ChannelSet.RunChange))
            _airBehaviour.Follow(_reading);
        _digest.Follow(_reading, fresh);
        RunJudges(signs, at);
        if (_limits.Count > 0 && fresh.Overlaps(ChannelSet.Others))
            RunLimits(at);
    }

    private void RunChanged(Instant at)
    {
        ApplyRun(at);
        _reading.Fresh = default;
        _air.Follow(_reading);
        _airBehaviour.Follow(_reading);
        RunJudges(ChannelSet.RunChange, at);
    }

    private void ApplyRun(Instant since)
    {
        _reading.Run = _runs.Current;
        _pendingRuns.Add(new PendingRun { At = since, Run = _runs.Current });
    }

    /// <summary>For each sign, the rules at once that it triggers: a bit each, by their place.</summary>
    private static uint[] RulesOfSign(Judge[] judges)
    {
        var rules = new uint[32];
        for (var place = 0; place < judges.Length; place++)
        {
            for (var bits = judges[place].Triggers.Bits; bits != 0; bits &= bits - 1)
                rules[BitOperations.TrailingZeroCount(bits)] |= 1u << place;
        }

        return rules;
    }

    private uint RulesOf(ChannelSet signs)
    {
        var rules = 0u;
        for (var bits = signs.Bits; bits != 0; bits &= bits - 1)
            rules |= _rulesOfSign[BitOperations.TrailingZeroCount(bits)];
        return rules;
    }

    private void RunJudges(ChannelSet signs, Instant at)
    {
        if (signs != _signsThen)
            (_signsThen, _rulesThen) = (signs, RulesOf(signs));
        if (_rulesThen != 0)
            Ask(_rulesThen, at);
        JudgeSensors(signs, at);
    }

    private void JudgeSensors(ChannelSet signs, Instant at)
    {
        // While no channel is at fault all three say that all is well, and then nobody need hear it again.
        if (_reading.AnyFault || (_restless & _sensorMarks) != 0)
            RunJudges(_sensorJudges, signs, at);
    }

    // By name, and not by way of the list: where a dozen kinds stand behind one interface, every call is a search for its method.
    // The verdict's numbers are asked for only where a latch will hear them.
    private void Ask(uint rules, Instant at)
    {
        if ((rules & RulesOfAir) != 0)
            AskOfAir(rules, at);
        if ((rules & ~RulesOfAir) != 0)
            AskOfTheRest(rules, at);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void AskOfAir(uint rules, Instant at)
    {
        if ((rules & (1u << 0)) != 0 && Hears(0, _airLost.Follow(_reading)))
            Apply(_judges[0], at, _airLost.Say(_reading));
        if ((rules & (1u << 1)) != 0 && HearsByGrade(1, _airLow.Follow(_reading)))
            Apply(_judges[1], at, _airLow.Say(_reading));
        if ((rules & (1u << 2)) != 0 && HearsByGrade(2, _airRestricted.Follow(_reading)))
            Apply(_judges[2], at, _airRestricted.Say(_reading));
        if ((rules & (1u << 3)) != 0 && Hears(3, _waterTrap.Follow(_reading)))
            Apply(_judges[3], at, _waterTrap.Say(_reading));
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private void AskOfTheRest(uint rules, Instant at)
    {
        var load = (rules & RulesOfHeat) != 0 ? HeatLoad.Of(_reading) : default;
        if ((rules & (1u << 4)) != 0 && Hears(4, _currentHigh.Follow(_reading)))
            Apply(_judges[4], at, _currentHigh.Say(_reading));
        if ((rules & (1u << 5)) != 0 && HearsByGrade(5, _coolantFlow.Follow(_reading, load)))
            Apply(_judges[5], at, _coolantFlow.Say(_reading));
        if ((rules & (1u << 6)) != 0 && Hears(6, _coolantHot.Follow(_reading)))
            Apply(_judges[6], at, _coolantHot.Say(_reading));
        if ((rules & (1u << 7)) != 0 && Hears(7, _coolantCold.Follow(_reading)))
            Apply(_judges[7], at, _coolantCold.Say(_reading));
        if ((rules & (1u << 8)) != 0 && Hears(8, _coolantDrift.Follow(_reading, load)))
            Apply(_judges[8], at, _coolantDrift.Say(_reading));
        if ((rules & (1u << 9)) != 0 && HearsByGrade(9, _coolantCourse.Follow(_reading, load)))
            Apply(_judges[9], at, _coolantCourse.Say(_reading));
        if ((rules & (1u << 10)) != 0 && Hears(10, _condensation.Follow(_reading)))
            Apply(_judges[10], at, _condensation.Say(_reading));
    }

    private void AskUpkeep(Instant at)
    {
        if (_serviceDue.Follow(_reading) || (_restless & _upkeepJudges[0].Mark) != 0)
            Apply(_upkeepJudges[0], at, _serviceDue.Say());
        if (_life.Follow(_reading) || (_restless & _upkeepJudges[1].Mark) != 0)
            Apply(_upkeepJudges[1], at, _life.Say(_reading));
    }

    /// <summary>The rule's latch will do something with the verdict; of a rule whose breaches are all of one grade.</summary>
    private bool Hears(int place, bool isBreach) => ((isBreach ? ~_standing : _restless) & (1u << place)) != 0;

    /// <summary>The same of a rule whose breach may grow worse.</summary>
    private bool HearsByGrade(int place, bool isBreach) => isBreach || (_restless & (1u << place)) != 0;

    private void RunJudges(Judge[] judges, ChannelSet signs, Instant at)
    {
        foreach (ref readonly var judge in judges.AsSpan())
        {
            if (judge.Triggers.Overlaps(signs))
                Apply(judge, at, judge.Detector.Update(_reading));
        }
    }

    private void Apply(in Judge judge, Instant at, in Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach && (_restless & judge.Mark) == 0 && judge.Mark != 0)
            return;
        var change = judge.Latch.Apply(_reading, at, verdict, judge.Detector);
        _restless = judge.Latch.IsAtRest ? _restless & ~judge.Mark : _restless | judge.Mark;
        _standing = judge.Latch.IsStanding ? _standing | judge.Mark : _standing & ~judge.Mark;
        _latchesWait |= judge.Latch.IsStirred;
        // A shelved alarm's newest finding is taken note of without a word.
        if (judge.Latch.IsStirred)
            StandingVersion++;
        if (change is null)
            return;
        Add(change);
        Relate(at);
    }

    private void TickLatches(Instant now)
    {
        foreach (var latch in _latchesInOrder)
            Add(latch.Tick(now));
        Relate(now);

        // What has been related to each other at one moment stays so, until one changes or its time runs out.
        _latchesWait = false;
        foreach (var latch in _latchesInOrder)
        {
            latch.IsStirred = false;
            _latchesWait |= latch.WaitsForTime(now, LongestSettling);
        }
    }

    private void LookAtAllLatches()
    {
        (_restless, _standing, _latchesWait) = (uint.MaxValue, 0, true);
        StandingVersion++;
    }

    /// <summary>For the next call nothing is known to be at rest: every latch and every channel is asked, and samples are taken one by one. What comes of it must be the same.</summary>
    internal void TakeNoShortcut()
    {
        LookAtAllLatches();
        _order.TakeNoShortcut();
        _sensors.TakeNoShortcut();
    }

    // At once after each change, and causes are judged before their effects: what is explained is not told first.
    private void Relate(Instant at)
    {
        foreach (var effect in _effects)
        {
            Dependency? cause = null;
            foreach (var (latch, dependency, settling) in effect.Explanations)
            {
                // Nearest first, but what silences goes before what only sorts.
                if (cause is null or { Folded: false } && (cause is null || dependency.Folded) && latch.Explains(at, settling))
                    cause = dependency;
            }

            Add(effect.Latch.Relate(at, cause));
        }
    }

    private void RunLimits(Instant at)
    {
        foreach (var (name, judge) in _limits)
        {
            if (_heard.TryGetValue(name, out var channel) && _reading.TimeOf(channel) == at)
                Apply(judge, at, ((ChannelLimit)judge.Detector).Update(channel, _reading));
        }
    }

    private void Release(bool all)
    {
        for (var due = _order.Release(all); due.Length != 0; due = _order.Release(all))
        {
            var waits = _isAnnotated || _pendingRuns.Count > 0;
            foreach (ref readonly var held in due)
            {
                if (waits)
                    FollowAllOfTube(held.At);
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
        _tube.PassTime(at);
        if ((channels & HeldRow.Kept) == 0)
            return;
        if ((channels & (1u << CanonicalIndex.Lasing)) != 0 && _tube.TakeLasing(at, held.Lasing))
            JudgeTube(at);
        if ((channels & (1u << CanonicalIndex.Power)) != 0)
            _tube.TakePower(at, held.Power);
        if ((channels & (1u << CanonicalIndex.TubeCurrent)) != 0 && _tube.TakeCurrent(at, held.TubeCurrent))
            JudgeTube(at);
        if ((channels & (1u << CanonicalIndex.CoolantIn)) != 0)
            _tube.TakeCoolant(at, held.CoolantIn);
    }

    private void JudgeTube(Instant at)
    {
        foreach (ref readonly var judge in _tubeJudges.AsSpan())
            Apply(judge, at, judge.Detector.Update(_reading));
        _coolantFlow.Rise.CurrentIsDoubted = _sagLatch.IsBreach || _stepLatch.IsBreach;
    }

    private void FollowAllOfTube(Instant at)
    {
        BeginRunsOfTube(at);
        if (_isAnnotated)
            FollowAnnotationsOfTube(at);
    }

    private void BeginRunsOfTube(Instant at)
    {
        while (_pendingRuns.Count > 0 && _pendingRuns[0].At <= at)
        {
            _runOfTube = _pendingRuns[0].Run;
            _tube.Begin(_runOfTube);
            _pendingRuns.RemoveAt(0);
        }
    }

    private void Add(AlarmChange? change)
    {
        if (change is null)
            return;
        (_changes ??= []).Add(change);
        StandingVersion++;
    }

    private IReadOnlyList<AlarmChange> TakeChanges()
    {
        if (_changes is null)
            return Nothing;
        var changes = _changes;
        _changes = null;
        return changes;
    }

    private void Visit(StateVisitor state)
    {
        _reading.Visit(state);
        _order.Visit(state);
        _runs.Visit(state);
        _sensors.Visit(state);
        _air.Visit(state);
        _airBehaviour.Visit(state);
        _tube.Visit(state);
        _digest.Visit(state);
        LookAtAllLatches();
        foreach (var judge in _judges)
            judge.Detector.Visit(state);
        foreach (var judge in _sensorJudges)
            judge.Detector.Visit(state);
        foreach (var judge in _tubeJudges)
            judge.Detector.Visit(state);
        _ledger.Visit(state);
        foreach (var judge in _upkeepJudges)
            judge.Detector.Visit(state);
        state.Walk(_pendingRuns, () => new PendingRun(), pending => pending.Visit(state, _jobs));
        state.Walk(ref _lastTick);
        state.Walk(ref _tickAtNewest);
        state.Walk(ref _newestAtTick);
        state.Walk(ref _late);
        state.Walk(ref _duplicates);
        state.Walk(ref _commandsOfNoUse);

        // By name, so that a limit added to or taken from the configuration does not cost the rest.
        var names = _latches.Keys.Select(name => new LatchName { Value = name }).ToList();
        state.Walk(names, () => new LatchName(), name =>
        {
            state.Walk(ref name.Value);
            (_latches.TryGetValue(name.Value ?? "", out var latch) ? latch : new AlarmLatch(Machine, name.Value ?? "", _options.Alarms)).Visit(state);
        });
        if (state.IsLoading)
            _reading.Run = _runs.Current;
        if (state.HasMore || (!state.IsLoading && _annotations.HasAny))
            VisitAnnotations(state);
    }

    // Only where there are any: a state without them is what it was before there were annotations.
    private void VisitAnnotations(StateVisitor state)
    {
        _annotations.Visit(state);
        _isAnnotated = _annotations.HasAny;
        _pause.Visit(state);
        _tubePause.Visit(state);
        RunTracker.VisitRun(state, ref _runOfTube, _jobs);
    }

    /// <param name="Mark">The rule's bit in the set of those whose latch is restless; none for a channel's limits.</param>
    private readonly record struct Judge(IDetector Detector, AlarmLatch Latch, ChannelSet Triggers, uint Mark);

    private readonly record struct Explanation(AlarmLatch Latch, Dependency Dependency, TimeSpan Settling);

    private readonly record struct Effect(AlarmLatch Latch, Explanation[] Explanations);

    private sealed class LatchName
    {
        public string? Value;
    }

    private sealed class PendingRun
    {
        public Instant At;
        public Run? Run;

        public void Visit(StateVisitor state, JobBook jobs)
        {
            state.Walk(ref At);
            RunTracker.VisitRun(state, ref Run, jobs);
        }
    }
}
