using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.History;

/// <summary>The tubes of a machine, and what the current of each did at fixed power, block by block.</summary>
/// <remarks>
/// The blocks are those of the rules that raise the alarms: the same code judges the same samples. What differs from the live watch is hindsight: a run whose job was recognised
/// after some seconds has it from its start, and work that was logged late stands where it was done. Values that no sound sensor can say are left out; a sensor that was
/// found stuck is not known here. A tube that is logged as replaced begins a new baseline. Spans annotated as faulty, or to be ignored, are left out. A year of four channels at one sample a second is some 120 000 blocks, 6 MB.
/// </remarks>
public sealed class TubeHistory(MonitorOptions options, JobBook jobs) : IHistoryListener
{
    // As the rules count it: of a longer time between two samples nobody knows.
    private const double LongestBeamStep = 60;

    private readonly List<Tube> _tubes = [new()];
    private readonly PlausibleRange _currents = options.Sensors.RangeOf(Channel.TubeCurrent);
    private readonly PlausibleRange _coolants = options.Sensors.RangeOf(Channel.CoolantIn);
    private readonly TimeSpan _forgotten = TimeSpan.FromMinutes(options.Runs.ForgottenAfterMinutes);
    private TubeHealth _health = new(options.TubeCurrent, options.Runs, jobs, withCourses: false);
    private readonly AnnotationBook _annotations = new();
    private double _leftOutSeconds;
    private Instant? _leftOutBeam;
    private long _blocks;
    private bool _beamIsOff;
    private Instant _beamSeen;
    private Run? _run;
    private int _runs;

    // The samples of the instant under way; NaN where there is none.
    private Instant _moment = Instant.MinValue;
    private double _lasing = double.NaN;
    private double _power = double.NaN;
    private double _current = double.NaN;
    private double _coolant = double.NaN;

    // What the tube's health was told last; NaN before anything. Where the beam rests on, it is told when that was once it matters.
    private double _toldLasing = double.NaN;
    private double _toldPower = double.NaN;
    private Instant? _restedAt;

    /// <summary>What changes nothing need not be told. False: it is told all, as the live watch is, to compare with.</summary>
    internal bool Shortcuts { get; init; } = true;

    public IReadOnlyCollection<Channel> Channels { get; } = [Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.CoolantIn];

    /// <summary>The tubes that were in, oldest first; the last is in now. At least one.</summary>
    public IReadOnlyList<TubePeriod> Tubes => [.. _tubes.Select((tube, i) => new TubePeriod(
        i + 1, tube.Serial, tube.Installed, i + 1 < _tubes.Count ? _tubes[i + 1].Installed : null, tube.BeamSeconds / 3600))];

    /// <summary>The channel was seen at all; without a power, no current can be held against another.</summary>
    public bool SeesPower { get; private set; }

    public bool SeesCurrent { get; private set; }

    /// <summary>The first sample of what it needs; null before any.</summary>
    public Instant? First { get; private set; }

    /// <summary>The powers at which a tube was judged, in whole percent, with their numbers of blocks; rising.</summary>
    /// <param name="tube">A number of <see cref="Tubes"/>.</param>
    public IReadOnlyList<(double Percent, int Blocks)> PowersOf(int tube) =>
        [.. _tubes[tube - 1].Blocks.GroupBy(block => block.Power).OrderBy(group => group.Key).Select(group => (group.Key, group.Count()))];

    /// <summary>The health of a tube by the day: its ratio to the baseline.</summary>
    /// <param name="tube">A number of <see cref="Tubes"/>.</param>
    /// <param name="power">%; blocks within a point of it are taken. Null: those of all powers, pooled.</param>
    public IReadOnlyList<DailyEstimate> DaysOf(int tube, double? power = null) => DailyHealth.Ratios(_tubes[tube - 1].Blocks, power).Days;

    public void Begin(HistorySpan span)
    {
        // Where nobody told of runs, all beam is one run of an unknown job: with records at hand it would be left out as perhaps an engraving.
        if (span.RunsAreKnown)
            return;
        _health = new TubeHealth(options.TubeCurrent, options.Runs, new JobBook(), withCourses: false);
        Run(new Run(++_runs, null, null, span.From, Inferred: true));
    }

    public void Take(JobEvent run)
    {
        TakeMoment();
        Run(run.Kind == JobEventKind.End
            ? null
            : new Run(++_runs, run.Job, run.Job is null ? null : jobs.Find(run.Job, run.At), run.At, run.Inferred));
    }

    public void Take(ServiceEvent service)
    {
        TakeAnnotation(service);
        if (!string.Equals(service.Part, "tube", StringComparison.OrdinalIgnoreCase) || !ServiceLedger.Replaces(service.Action))
            return;
        TakeMoment();
        Close();
        _health.Restart(service.At);
        // Nothing was seen of the one before: it was logged twice, or came before the first sample.
        if (_tubes[^1].Blocks.Count > 0 || _tubes[^1].BeamSeconds > 0)
            _tubes.Add(new Tube());
        (_tubes[^1].Installed, _tubes[^1].Serial, _tubes[^1].BeamSecondsBefore) = (service.At, service.Serial ?? _tubes[^1].Serial, BeamSeconds);
    }

    private double BeamSeconds => _health.BeamSeconds + _leftOutSeconds;

    private void TakeAnnotation(ServiceEvent service)
    {
        if (!Annotation.IsOne(service))
            return;
        TakeMoment();
        _annotations.Take(service);
    }

    public void Take(ReadOnlySpan<Sample> samples)
    {
        foreach (ref readonly var sample in samples)
        {
            if (sample.At != _moment)
            {
                TakeMoment();
                _moment = sample.At;
            }

            var channel = sample.Channel;
            if (channel == Channel.TubeCurrent)
                _current = sample.Value;
            else if (channel == Channel.Power)
                _power = sample.Value;
            else if (channel == Channel.Lasing)
                _lasing = sample.Value;
            else if (channel == Channel.CoolantIn)
                _coolant = sample.Value;
        }
    }

    public void Take(in Moments moments)
    {
        var times = moments.Times;
        var lasing = moments.Of(Channel.Lasing);
        var power = moments.Of(Channel.Power);
        var current = moments.Of(Channel.TubeCurrent);
        var coolant = moments.Of(Channel.CoolantIn);
        for (var i = 0; i < times.Length; i++)
        {
            TakeMoment();
            _moment = new Instant(times[i]);
            (_lasing, _power, _current, _coolant) = (lasing[i], power[i], current[i], coolant[i]);
        }
    }

    public void End()
    {
        TakeMoment();
        Close();
    }

    /// <summary>The samples of one instant, in the order of the live watch: what says whether the beam is on comes before what the beam does.</summary>
    private void TakeMoment()
    {
        if (_annotations.LeavesOut(_moment))
        {
            LeaveOut();
            return;
        }

        _leftOutBeam = null;
        if (Shortcuts && _lasing < 0.5 && _toldLasing < 0.5 && (double.IsNaN(_power) || _power == _toldPower))
            RestOn();
        else
            TakeAll();
        _lasing = _power = _current = _coolant = double.NaN;
    }

    /// <summary>The beam stays off, as it is most of the time: until something else is told, only when it was last said to be matters.</summary>
    private void RestOn()
    {
        _beamIsOff = true;
        _restedAt = _moment;
        _toldLasing = _lasing;
        SeesPower |= !double.IsNaN(_power);
        SeesCurrent |= !double.IsNaN(_current);
        First ??= _moment;
        if (_coolants.Holds(_coolant))
            Take(CanonicalIndex.CoolantIn, _coolant);
    }

    private void TakeAll()
    {
        if (_restedAt is { } rested)
            _health.Take(CanonicalIndex.Lasing, rested, _toldLasing);
        _restedAt = null;
        if (!double.IsNaN(_lasing))
        {
            FollowBeam(_lasing);
            Take(CanonicalIndex.Lasing, _lasing);
            _toldLasing = _lasing;
        }

        if (!double.IsNaN(_power))
        {
            SeesPower = true;
            // At an instant that is known a power that is known says nothing.
            if (!Shortcuts || double.IsNaN(_lasing) || _power != _toldPower)
                Take(CanonicalIndex.Power, _power);
            _toldPower = _power;
        }

        if (!double.IsNaN(_current))
        {
            // A current without beam proves nothing, and ends nothing that the beam's end has not.
            SeesCurrent = true;
            if (!_beamIsOff && _currents.Holds(_current))
                Take(CanonicalIndex.TubeCurrent, _current);
        }

        if (_coolants.Holds(_coolant))
            Take(CanonicalIndex.CoolantIn, _coolant);
    }

    /// <summary>The tube ages in an annotated span as well: its beam is counted, and nothing else.</summary>
    private void LeaveOut()
    {
        if (_leftOutBeam is { } since && _moment.SecondsSince(since) is > 0 and <= LongestBeamStep and var seconds)
            _leftOutSeconds += seconds;
        var seen = double.IsNaN(_lasing) ? _leftOutBeam is not null : _lasing >= 0.5;
        _leftOutBeam = seen ? _moment : null;
        if (!double.IsNaN(_lasing))
            FollowBeam(_lasing);
        _lasing = _power = _current = _coolant = double.NaN;
    }

    private void Take(int channel, double value)
    {
        First ??= _moment;
        if (_health.Take(channel, _moment, value) && _health.BlocksEver != _blocks)
            Keep();
    }

    internal TubeBlocks BlocksOf(int tube) => new(_tubes[tube - 1].Blocks, _tubes[tube - 1].Baselines);

    private void Run(Run? run)
    {
        _run = run;
        _health.Begin(run);
    }

    // As the live watch does: an announced run whose end never came is over after a long time without beam.
    private void FollowBeam(double lasing)
    {
        _beamIsOff = lasing < 0.5;
        if (_beamIsOff)
            return;
        if (_run is { Inferred: false } run && _moment - (_beamSeen > run.Since ? _beamSeen : run.Since) >= _forgotten)
            Run(null);
        _beamSeen = _moment;
    }

    private void Keep()
    {
        _blocks = _health.BlocksEver;
        _tubes[^1].Blocks.Add(new(
            _health.All.Time(0).UnixNanoseconds, _health.LastPower, _health.LastMilliamps, _health.All.Ratio(0), _health.LastBaseline, _health.All.BaselineError));
    }

    private void Close()
    {
        var tube = _tubes[^1];
        tube.BeamSeconds = BeamSeconds - tube.BeamSecondsBefore;
        foreach (var power in tube.Blocks.Select(block => block.Power).Distinct())
        {
            if (_health.Baseline.Expected(power, null) is { } expected)
                tube.Baselines[power] = expected.Milliamps;
        }
    }

    internal readonly record struct TubeBlocks(List<TubeBlock> Blocks, IReadOnlyDictionary<double, double> Baselines);

    private sealed class Tube
    {
        public string? Serial;
        public Instant? Installed;
        public double BeamSecondsBefore;
        public double BeamSeconds;
        public readonly List<TubeBlock> Blocks = [];
        public readonly Dictionary<double, double> Baselines = [];
    }
}
