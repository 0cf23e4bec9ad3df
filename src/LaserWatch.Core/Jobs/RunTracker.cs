using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

/// <summary>Knows which job is under way: from job events, or from the beam and the air where none come.</summary>
/// <remarks>
/// A run worked out so is matched to a recorded job by steady power and pressure when exactly one fits. Where none does by pressure, the
/// power alone names the job if it is one record's own and the machine has run at it as recorded before (<see cref="MatchHistory"/>): a pressure that
/// is wrong from the start must not hide the job it is wrong for. Otherwise the job is unknown. Where somebody has announced jobs within a day, nothing
/// is matched: an unannounced run is then truly unknown.
/// </remarks>
internal sealed class RunTracker(string machine, RunOptions options, JobBook jobs)
{
    private static readonly TimeSpan AnnouncedLately = TimeSpan.FromHours(24);
    private static readonly TimeSpan MatchAfter = TimeSpan.FromSeconds(5);

    /// <summary>Air that is still rising fits no record; by then it has risen.</summary>
    private static readonly TimeSpan MatchByPowerAfter = TimeSpan.FromSeconds(10);

    private const double QuietSeconds = 30;

    private readonly TimeSpan _startAfter = TimeSpan.FromSeconds(options.StartAfterSeconds);
    private readonly TimeSpan _endAfterIdle = TimeSpan.FromSeconds(options.EndAfterIdleSeconds);
    private readonly TimeSpan _forgottenAfter = TimeSpan.FromMinutes(options.ForgottenAfterMinutes);
    private readonly List<JobEvent> _inferred = [];
    private readonly MatchHistory _history = new();
    private Fading _fading = new(2);
    private bool _byPower;
    private Run? _run;
    private int _runs;
    private Instant? _announcedAt;
    private Instant? _activeSince;
    private Instant? _activeLast;
    private double _steadyPower;
    private Instant? _powerSteadySince;
    private double? _smoothPressure;
    private Instant _pressureAt;

    public Run? Current => _run;

    public long StartsWithoutEnd { get; private set; }

    public long EndsWithoutStart { get; private set; }

    /// <summary>Takes what somebody announced; true where the run changed.</summary>
    public bool Observe(JobEvent change)
    {
        _announcedAt = change.At;
        if (change.Kind == JobEventKind.End)
        {
            if (_run is null)
            {
                EndsWithoutStart++;
                return false;
            }

            End(change.At);
            return true;
        }

        if (_run is { Inferred: false })
            StartsWithoutEnd++;
        if (_run is { Inferred: true })
            _inferred.Add(new JobEvent(machine, change.At, JobEventKind.End, _run.Job, Inferred: true));
        Begin(change.Job, change.Job is null ? null : jobs.Find(change.Job, change.At), change.At, inferred: false);
        return true;
    }

    /// <summary>Looks at the reading for runs nobody announced; true where the run changed.</summary>
    public bool Observe(Reading reading)
    {
        var active = IsActive(reading);
        if (active)
        {
            _activeSince ??= reading.At;
            _activeLast = reading.At;
        }

        FollowPowerAndPressure(reading);

        if (_run is null)
        {
            if (!active)
            {
                _activeSince = null;
                return false;
            }

            if (reading.At - _activeSince!.Value < _startAfter)
                return false;
            Begin(null, null, _activeSince.Value, inferred: true);
            _inferred.Add(new JobEvent(machine, _run!.Since, JobEventKind.Start, null, Inferred: true));
            return true;
        }

        // While it is active its end is ahead.
        if (!active && EndOfPatience(reading) is { } end && reading.At >= end)
        {
            _inferred.Add(new JobEvent(machine, end, JobEventKind.End, _run.Job, Inferred: true));
            if (_run.Inferred)
                Remember();
            End(end);
            return true;
        }

        return _run.Inferred && TryMatch(reading);
    }

    public bool HasInferred => _inferred.Count > 0;

    /// <summary>The runs that nobody announced and that began, were matched or ended since the last call.</summary>
    public IReadOnlyList<JobEvent> TakeInferred()
    {
        if (_inferred.Count == 0)
            return [];
        JobEvent[] taken = [.. _inferred];
        _inferred.Clear();
        return taken;
    }

    /// <summary>Looks the running job up anew: its record has just been changed.</summary>
    public bool Refresh()
    {
        if (_run?.Job is not { } job || jobs.Find(job, _run.Since) is not { } record || record == _run.Record)
            return false;
        _run = _run with { Record = record };
        return true;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _runs);
        VisitRun(state, ref _run, jobs);
        state.Walk(ref _announcedAt);
        state.Walk(ref _activeSince);
        state.Walk(ref _activeLast);
        state.Walk(ref _steadyPower);
        state.Walk(ref _powerSteadySince);
        state.Walk(ref _smoothPressure);
        state.Walk(ref _pressureAt);
        state.Walk(ref _byPower);
        _history.Visit(state);
        var (starts, ends) = (StartsWithoutEnd, EndsWithoutStart);
        state.Walk(ref starts);
        state.Walk(ref ends);
        (StartsWithoutEnd, EndsWithoutStart) = (starts, ends);
    }

    public static void VisitRun(StateVisitor state, ref Run? run, JobBook jobs)
    {
        var known = run is not null;
        state.Walk(ref known);
        var (number, job, since, inferred) = (run?.Number ?? 0, run?.Job, run?.Since ?? default, run?.Inferred ?? false);
        if (known)
        {
            state.Walk(ref number);
            state.Walk(ref job);
            state.Walk(ref since);
            state.Walk(ref inferred);
        }

        if (state.IsLoading)
            run = known ? new Run(number, job, job is null ? null : jobs.Find(job, since), since, inferred) : null;
    }

    // A machine of which nothing is heard is not known to be active, whatever it said last.
    private bool IsActive(Reading reading) => reading.QuietSeconds < QuietSeconds && (reading.BeamOn ?? (reading.Has(CanonicalIndex.Power)
            ? reading[CanonicalIndex.Power] > 0
            : reading.Has(CanonicalIndex.AirPressure) && reading[CanonicalIndex.AirPressure] >= options.AirOnKilopascals));

    /// <summary>When the run ends if nothing more happens; null where nobody can tell a long pause from a forgotten end.</summary>
    private Instant? EndOfPatience(Reading reading)
    {
        var idleSince = _activeLast is { } last && last > _run!.Since ? last : _run!.Since;
        if (_run.Inferred)
            return idleSince + _endAfterIdle;
        return reading.BeamOn is null ? null : idleSince + _forgottenAfter;
    }

    private void FollowPowerAndPressure(Reading reading)
    {
        FollowPressure(reading);
        if (reading.IsFresh(CanonicalIndex.Power) && reading.Has(CanonicalIndex.Power))
        {
            var power = reading[CanonicalIndex.Power];
            // A command of nothing is a gap between cuts, not another power.
            if (power < 1)
                return;
            if (_powerSteadySince is null || Math.Abs(power - _steadyPower) > 0.5)
            {
                _steadyPower = power;
                _powerSteadySince = reading.At;
            }
        }
    }

    private void FollowPressure(Reading reading)
    {
        if (reading.IsFresh(CanonicalIndex.AirPressure) && reading.Has(CanonicalIndex.AirPressure))
        {
            var seconds = reading.At.SecondsSince(_pressureAt);
            var weight = _smoothPressure is null || seconds > 30 ? 1 : _fading.Weight(seconds);
            _smoothPressure = (_smoothPressure ?? 0) + (weight * (reading[CanonicalIndex.AirPressure] - (_smoothPressure ?? 0)));
            _pressureAt = reading.At;
        }
    }

    private bool TryMatch(Reading reading)
    {
        if (_announcedAt is { } announced && reading.At - announced < AnnouncedLately)
            return false;
        if (reading.BeamOn == false || !reading.Has(CanonicalIndex.Power) || _powerSteadySince is not { } steady
            || reading.At - steady < MatchAfter || reading.At - _run!.Since < MatchAfter)
            return false;
        if (_run.Record?.Power is { } matched && Math.Abs(matched.Value - _steadyPower) <= options.PowerMatchPoints)
            return false;

        var (only, fits) = Only(reading);
        var byPower = false;
        if (fits == 0 && reading.At - steady >= MatchByPowerAfter && reading.At - _run.Since >= MatchByPowerAfter
            && Only(null) is (not null and var named, _) && _history.Trusts(named.Job))
            (only, byPower) = (named, true);
        if (only is null || only.Job == _run.Job)
            return false;
        _byPower = byPower;
        if (_run.Job is not null)
        {
            // The power of another job, steadily: one job followed the other without a pause.
            _inferred.Add(new JobEvent(machine, steady, JobEventKind.End, _run.Job, Inferred: true));
            Begin(only.Job, only, steady, inferred: true);
            _byPower = byPower;
        }
        else
        {
            _run = _run with { Job = only.Job, Record = only };
        }

        _inferred.Add(new JobEvent(machine, _run!.Since, JobEventKind.Start, only.Job, Inferred: true));
        return true;
    }

    // The one record that fits by power and pressure; without a reading, by power alone.
    private (JobRecord? Record, int Count) Only(Reading? reading)
    {
        JobRecord? only = null;
        var count = 0;
        var records = jobs.InForce;
        for (var i = 0; i < records.Count; i++)
        {
            var record = records[i];
            if (reading is null ? !FitsPower(record) : !Fits(record, reading))
                continue;
            only = record;
            count++;
        }

        return (count == 1 ? only : null, count);
    }

    // A run whose power is one record's own either was that job, as recorded, or shows that the shop cuts something else at that power.
    private void Remember()
    {
        if (_run!.Job is { } job && !_byPower)
            _history.Fitted(job);
        else if (_run.Job is null && _powerSteadySince is not null && Only(null).Record is { AirPressure: not null } record)
            _history.Missed(record.Job);
    }

    private bool FitsPower(JobRecord record) => record.Power is { } power && Math.Abs(power.Value - _steadyPower) <= options.PowerMatchPoints;

    private bool Fits(JobRecord record, Reading reading)
    {
        if (!FitsPower(record))
            return false;
        if (record.AirPressure is not { } pressure || !reading.Has(CanonicalIndex.AirPressure) || _smoothPressure is not { } measured)
            return true;
        return Math.Abs(measured - pressure.Value) <= options.PressureMatchFraction * pressure.Value;
    }

    private void Begin(string? job, JobRecord? record, Instant since, bool inferred)
    {
        _run = new Run(++_runs, job, record, since, inferred);
        _byPower = false;
        _activeLast = null;
    }

    private void End(Instant at)
    {
        _run = null;
        _activeSince = null;
        _activeLast = at;
    }
}
