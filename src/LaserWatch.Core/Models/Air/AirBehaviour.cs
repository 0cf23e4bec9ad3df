using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>How the air behaves at each job while all is well, and how the present run compares.</summary>
/// <remarks>
/// The recorded pressure stays what an alarm is held against. What is learned here tells of a change that is still within the tolerance, rides out
/// a compressor's sawtooth, and names the cause. Where a person sets the regulator is one observation for all runs of a job without
/// another between them: counted run by run, one setting would look like a trend.
/// </remarks>
internal sealed class AirBehaviour
{
    private const int MostJobs = 500;

    /// <summary>After a stretch of cutting has begun the pressure settles for so long, in seconds.</summary>
    private const double SettleSeconds = 6;

    /// <summary>After so long a rest somebody may have set the regulator anew.</summary>
    private const double RestSeconds = 6 * 3600;

    /// <summary>Conductance has moved when it is off by so much (natural logarithm): a tenth.</summary>
    private const double LeastConductanceChange = 0.1;

    private readonly AirLine _air;
    private readonly AirPressureOptions _options;
    private readonly Dictionary<string, AirHabit> _habits = new(StringComparer.Ordinal);
    private readonly AirBlocks _blocks;
    private AirHabit? _habit;
    private int _run;
    private Instant _at;
    private bool _distrusted;
    private bool _moved;
    private AirOnset _toldOnset;
    private double _stretch;
    private double? _lastConductance;
    private string? _settingJob;
    private double _settingSum;
    private int _settingRuns;
    private Instant _settingEnd;

    public AirBehaviour(AirLine air, AirPressureOptions options)
    {
        _air = air;
        _options = options;
        _blocks = new AirBlocks(AirDesigns.WithinRun(options.FalseAlarmYears));
        var overRuns = AirDesigns.OverRuns(options.FalseAlarmYears);
        Pressure = new AirTrend(overRuns, 100 * options.LearnedRise, 100 * options.CreepFraction * options.Tolerance);
        Conductance = new AirTrend(overRuns, LeastConductanceChange, LeastConductanceChange);
    }

    public AirSwing Swing { get; } = new();

    public FallShape Fall { get; } = new();

    /// <summary>The pressure against its usual one at each job, percent of the record.</summary>
    public AirTrend Pressure { get; }

    /// <summary>The nozzle's conductance against its usual one at each job, natural logarithm of the ratio.</summary>
    public AirTrend Conductance { get; }

    /// <summary>The newest pressure counts, and the line has settled since the cutting began.</summary>
    public bool IsSteady { get; private set; }

    /// <summary>Where people set it at the present job, kPa; null until it is known.</summary>
    public double? UsualPressure => _habit?.UsualPressure;

    /// <summary>The nozzle's usual conductance at the present job, dm³/(s·bar); null until it is known.</summary>
    public double? UsualConductance => _habit?.UsualConductance;

    /// <summary>Where the pressure usually was at the job of the present trend, kPa; 0 where there is no trend.</summary>
    public double UsualThen => Pressure.Job is { } job && _habits.TryGetValue(job, out var habit) ? habit.Recorded * (1 + (Pressure.Usual / 100)) : 0;

    /// <summary>Where the pressure was when the present trend was told, kPa; 0 where there is no trend.</summary>
    public double PressureThen => Pressure.Job is { } job && _habits.TryGetValue(job, out var habit)
        ? habit.Recorded * (1 + ((Pressure.Usual + Pressure.Shift) / 100)) : 0;

    /// <summary>Flow is fitted, and the last run's conductance was the job's usual one within a tenth.</summary>
    public bool ConductanceIsUsual { get; private set; }

    /// <summary>How a pressure that is too high now began: seen to rise within this run, or there when it began.</summary>
    public AirOnset RiseOnset => _blocks.Onset != AirOnset.Unknown ? _blocks.Onset : _blocks.Blocks > 1 ? AirOnset.Unknown : AirOnset.BetweenRuns;

    /// <summary>A scale for the run's own scatter: what the pressure swings about its level, kPa.</summary>
    public double NormalReach => Math.Max(1.2 * Swing.Amplitude, 0.03 * (_air.Recorded ?? 0));

    /// <summary>What the pressure would be now if all were well, kPa: this run's own level, else the usual one, else the recorded.</summary>
    public double Reference
    {
        get
        {
            var recorded = _air.Recorded ?? 0;
            return _moved || _distrusted || _blocks.Blocks == 0 ? UsualPressure ?? recorded : recorded * (1 + (_blocks.RunMean / 100));
        }
    }

    /// <summary>Takes the reading's fresh pressure and flow, or a change of run; call it after the air line's phase has been followed.</summary>
    public void Follow(Reading reading)
    {
        if (reading.Run is not { Job: { } job } run || _air.Recorded is not { } recorded)
        {
            // A sensor that is not believed just now says nothing of the run.
            if (reading.Run is null || reading.Has(CanonicalIndex.AirPressure))
                EndRun();
            IsSteady = false;
            return;
        }

        if (run.Number != _run || _habit is null || _habit.Recorded != recorded)
        {
            EndRun();
            Begin(run.Number, job, recorded, run.Since);
        }

        if (reading.IsFresh(CanonicalIndex.AirPressure))
            TakePressure(reading, recorded, job);
        if (IsSteady && reading.IsFresh(CanonicalIndex.AirFlow) && reading.Has(CanonicalIndex.AirFlow))
            _blocks.TakeFlow(reading[CanonicalIndex.AirFlow]);
    }

    /// <summary>An alarm has said that this run is not as it should be: nothing of it is learned, and what was suspected has been told.</summary>
    /// <param name="onset">How the trouble began; where it was there before the run, it may be the one of the run before.</param>
    public void Distrust(AirOnset onset)
    {
        _distrusted = true;
        if (onset != AirOnset.BetweenRuns || _toldOnset == AirOnset.Unknown)
            _toldOnset = onset;
        Pressure.Tell();
        Conductance.Tell();
    }

    /// <summary>The signature of what is wrong now, for the ranking of causes.</summary>
    public AirSignature Signature(Reading reading, double pressure)
    {
        double? conductance = null;
        if (UsualConductance is { } usual && reading.Has(CanonicalIndex.AirFlow)
            && reading.TimeOf(CanonicalIndex.AirFlow) >= (Fall.LowSince ?? _at)
            && SonicConductance.OfNozzle(Math.Max(reading[CanonicalIndex.AirFlow], 0), pressure) is { } present)
            conductance = present / usual;
        var reference = Reference;
        return new AirSignature(
            reference > 0 ? Math.Max(pressure, 0) / reference : 1, conductance, _toldOnset, reference > 0 ? Swing.Amplitude / reference : 0,
            reading.Knows(CanonicalIndex.AirFlow));
    }

    /// <summary>The signature of a change over runs.</summary>
    public AirSignature TrendSignature(Reading reading)
    {
        var conductance = Conductance.Direction != 0 ? Math.Exp(Conductance.Shift)
            : UsualConductance is { } usual && _lastConductance is { } last ? last / usual
            : (double?)null;
        var usualThen = UsualThen;
        return new AirSignature(
            usualThen > 0 ? PressureThen / usualThen : 1, conductance, Pressure.Direction != 0 ? Pressure.Onset : Conductance.Onset,
            0, reading.Knows(CanonicalIndex.AirFlow));
    }

    public void Visit(StateVisitor state)
    {
        Swing.Visit(state);
        Fall.Visit(state);
        Pressure.Visit(state);
        Conductance.Visit(state);
        _blocks.Visit(state);
        var (steady, usual) = (IsSteady, ConductanceIsUsual);
        state.Walk(ref steady);
        state.Walk(ref usual);
        (IsSteady, ConductanceIsUsual) = (steady, usual);
        state.Walk(ref _run);
        state.Walk(ref _at);
        state.Walk(ref _distrusted);
        state.Walk(ref _moved);
        state.Walk(ref _toldOnset);
        state.Walk(ref _stretch);
        state.Walk(ref _lastConductance);
        state.Walk(ref _settingJob);
        state.Walk(ref _settingSum);
        state.Walk(ref _settingRuns);
        state.Walk(ref _settingEnd);
        var habits = _habits.Values.OrderBy(habit => habit.Job, StringComparer.Ordinal).ToList();
        state.Walk(habits, () => new AirHabit(), habit => habit.Visit(state));
        var present = _habit?.Job;
        state.Walk(ref present);
        if (!state.IsLoading)
            return;
        _habits.Clear();
        foreach (var habit in habits)
            _habits[habit.Job ?? ""] = habit;
        _habit = present is null ? null : _habits.GetValueOrDefault(present);
    }

    private void Begin(int run, string job, double recorded, Instant at)
    {
        if (!_habits.TryGetValue(job, out var habit) || habit.Recorded != recorded)
        {
            // What was learned at another recorded pressure is of another cut.
            if (habit is not null && _settingJob == job)
                _settingJob = null;
            habit = new AirHabit { Job = job, Recorded = recorded };
            if (_habits.Count < MostJobs || _habits.ContainsKey(job))
                _habits[job] = habit;
        }

        if (_settingJob is not null && (_settingJob != job || at.SecondsSince(_settingEnd) > RestSeconds))
            CloseSetting();
        (_run, _habit, _distrusted, _moved, _stretch) = (run, habit, false, false, 0);
        _blocks.Begin();
        Fall.Begin();
    }

    private void TakePressure(Reading reading, double recorded, string job)
    {
        _at = reading.TimeOf(CanonicalIndex.AirPressure);
        if (_air.StretchSeconds < _stretch)
            Fall.Begin();
        _stretch = _air.StretchSeconds;
        IsSteady = _air.IsJudged && _stretch >= SettleSeconds;
        if (!_air.IsJudged)
            return;
        var pressure = _air.Median;
        Fall.Take(pressure >= Math.Max(_air.Limit, Reference - NormalReach), pressure < _air.Limit, _at);
        if (!IsSteady)
            return;
        Swing.Take(pressure, _at, recorded);
        if (!_blocks.Take(100 * ((pressure / recorded) - 1), _air.StepSeconds))
            return;
        var shift = _blocks.Close(_habit!.KnowsRuns ? _habit.BlockDeviation : null);
        var usual = Usual(_habit);
        var off = _blocks.Recent - usual;
        if (shift == 0 || _distrusted || _moved || !IsMaterial(shift) || !IsMaterial(off) || Math.Sign(off) != Math.Sign(shift))
            return;
        // The runs before this one were as they should be, at the same setting.
        CloseSetting();
        _moved = true;
        Pressure.Say(off, usual, _at, _blocks.Onset, job);
    }

    private bool IsMaterial(double percent) =>
        percent >= 100 * _options.LearnedRise || percent <= -100 * _options.CreepFraction * (1 - (_air.Limit / _air.Recorded!.Value));

    /// <summary>Where the job's pressure usually is, percent off the record: of settings that are over, or of the present one's earlier runs.</summary>
    private double Usual(AirHabit habit) => habit.Setting.Count > 0 ? habit.Setting.Level(habit.SettingPrior)
        : _settingRuns > 0 ? _settingSum / _settingRuns
        : _blocks.RunMean;

    private void EndRun()
    {
        if (_run == 0 || _habit is not { } habit)
            return;
        _run = 0;
        _habit = null;
        if (!_blocks.IsEnough)
            return;
        if (_distrusted || _moved)
        {
            if (_moved)
                Pressure.Recover(_blocks.Recent - Pressure.Usual, habit.Job);
            CloseSetting();
            return;
        }

        _toldOnset = AirOnset.Unknown;
        var mean = _blocks.RunMean;
        Pressure.Recover(mean - (Pressure.Job == habit.Job ? Pressure.Usual : Usual(habit)), habit.Job);
        if (Pressure.Direction == 0)
            habit.LearnRun(_blocks.Squares, Math.Max(0, _blocks.Blocks - 1));
        (_settingJob, _settingEnd) = (habit.Job, _at);
        _settingSum += mean;
        _settingRuns++;
        var setting = _settingSum / _settingRuns;
        var usual = habit.Setting.Level(habit.SettingPrior);
        Pressure.Peek(habit.Setting.Score(setting, habit.SettingPrior), setting - usual, usual, _at, habit.Job);
        if (_blocks.Conductance(habit.Recorded) is { } conductance and > 0)
            TakeConductance(habit, Math.Log(conductance));
    }

    private void TakeConductance(AirHabit habit, double conductance)
    {
        _lastConductance = Math.Exp(conductance);
        var usual = habit.Conductance.Level(AirHabit.ConductancePrior);
        var off = conductance - usual;
        ConductanceIsUsual = habit.UsualConductance is not null && Math.Abs(off) < LeastConductanceChange;
        if (habit.Conductance.Count > 0)
        {
            Conductance.Recover(off, habit.Job);
            Conductance.Take(habit.Conductance.Score(conductance, AirHabit.ConductancePrior), off, usual, _at, habit.Job);
        }

        if (!Conductance.IsSuspicious)
            habit.Conductance.Learn(conductance);
    }

    private void CloseSetting()
    {
        if (_settingJob is { } job && _settingRuns > 0 && _habits.TryGetValue(job, out var habit))
        {
            var setting = _settingSum / _settingRuns;
            var usual = habit.Setting.Level(habit.SettingPrior);
            Pressure.Take(habit.Setting.Score(setting, habit.SettingPrior), setting - usual, usual, _settingEnd, job);
            if (!Pressure.IsSuspicious)
                habit.Setting.Learn(setting);
        }

        (_settingJob, _settingSum, _settingRuns) = (null, 0, 0);
    }
}
