using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Air;

/// <summary>The air finds less way out: pressure above the recorded value, or flow below the job's usual at good pressure.</summary>
/// <remarks>
/// By the ISO 6358 flow formula a nozzle half blocked raises the pressure before it by some 5 % while flow halves, so flow is
/// the better witness where it is fitted. The usual flow is the median of the first runs of each job.
/// </remarks>
internal sealed class AirPathRestrictedDetector(AirLine air, AirPressureOptions options) : IDetector
{
    private const int RunsThatTeach = 3;
    private const int MostJobs = 500;
    private const double SmoothSeconds = 5;
    private const double LeastRunSeconds = 20;

    private readonly Dictionary<string, List<double>> _flowOfRuns = new(StringComparer.Ordinal);
    private double? _pressure;
    private double? _flow;
    private double _flowSeconds;
    private Instant _pressureAt;
    private Instant _flowAt;
    private Instant? _badSince;
    private Instant? _goodSince;
    private bool _breach;
    private bool _byFlow;
    private int _run;
    private string? _job;

    public string Condition => Conditions.AirPathRestricted;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.AirPressure, Channel.AirFlow) | ChannelSet.RunChange;

    public Verdict Update(Reading reading)
    {
        if (reading.Run is not { } run || air.Recorded is not { } recorded)
        {
            if (reading.Run is not null && reading.Run.Record?.AirPressure is not null && !reading.Has(Channel.AirPressure))
                return default;
            EndRun();
            return new Verdict(Judgement.Normal);
        }

        if (run.Number != _run)
        {
            EndRun();
            _run = run.Number;
            _job = run.Job;
        }

        if (!air.IsJudged)
        {
            if (!air.IsCutting)
                _badSince = null;
            return Say(reading, recorded);
        }

        if (reading.Fresh.Has(Channel.AirPressure))
            _pressure = Smooth(_pressure, reading[Channel.AirPressure], reading.TimeOf(Channel.AirPressure), ref _pressureAt);
        if (reading.Fresh.Has(Channel.AirFlow) && reading.Has(Channel.AirFlow))
        {
            _flow = Smooth(_flow, reading[Channel.AirFlow], reading.TimeOf(Channel.AirFlow), ref _flowAt);
            _flowSeconds = reading.TimeOf(Channel.AirFlow).SecondsSince(run.Since);
        }

        if (_pressure is not { } pressure)
            return Say(reading, recorded);
        var tooHigh = pressure > HighLimit(recorded);
        var tooLittle = UsualFlow(run.Job) is { } usual && _flow < usual * (1 - options.FlowTolerance) && pressure >= air.Limit;
        var at = reading.At;
        if (tooHigh || tooLittle)
        {
            _goodSince = null;
            _badSince ??= at;
            if (!_breach && at.SecondsSince(_badSince.Value) >= options.RestrictedOnDelaySeconds)
            {
                _breach = true;
                _byFlow = tooLittle;
            }
        }
        else
        {
            _badSince = null;
            _goodSince ??= at;
            if (_breach && at.SecondsSince(_goodSince.Value) >= options.OffDelaySeconds)
                _breach = false;
        }

        return Say(reading, recorded);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        var unit = _byFlow ? Channel.AirFlow.Unit : Channel.AirPressure.Unit;
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(AlarmPriority.Medium, unit, reading.Run is null ? "the run is over" : "the air path is free again", [], []);
        var message = _byFlow
            ? string.Create(CultureInfo.InvariantCulture, $"air flow {verdict.Value:0.0} L/min is below the usual {UsualFlow(reading.Run?.Job):0.0} L/min of {reading.Run?.Job} though the pressure is good")
            : string.Create(CultureInfo.InvariantCulture, $"air pressure {verdict.Value:0.0} kPa is above the {air.Recorded:0.0} kPa recorded for {reading.Run?.Job}");
        List<Evidence> evidence = [new Evidence("recorded_pressure", air.Recorded ?? 0), new Evidence("pressure", Math.Round(_pressure ?? 0, 2))];
        if (_flow is { } flow)
            evidence.Add(new Evidence("flow", Math.Round(flow, 2)));
        if (UsualFlow(reading.Run?.Job) is { } usual)
            evidence.Add(new Evidence("usual_flow", Math.Round(usual, 2)));
        return new Finding(AlarmPriority.Medium, unit, message, evidence, Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        if (reading.Lack(Channel.AirPressure) is { } pressure)
            lacks.Add(pressure);
        if (reading.Lack(Channel.AirFlow) is { } flow)
            lacks.Add(flow + " (a blocked nozzle shows in flow far more than in pressure)");
        return lacks;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _pressure);
        state.Walk(ref _flow);
        state.Walk(ref _flowSeconds);
        state.Walk(ref _pressureAt);
        state.Walk(ref _flowAt);
        state.Walk(ref _badSince);
        state.Walk(ref _goodSince);
        state.Walk(ref _breach);
        state.Walk(ref _byFlow);
        state.Walk(ref _run);
        state.Walk(ref _job);
        var jobs = _flowOfRuns.Select(pair => new JobFlow { Job = pair.Key, Flows = [.. pair.Value] }).OrderBy(j => j.Job, StringComparer.Ordinal).ToList();
        state.Walk(jobs, () => new JobFlow(), j => j.Visit(state));
        if (!state.IsLoading)
            return;
        _flowOfRuns.Clear();
        foreach (var job in jobs)
            _flowOfRuns[job.Job ?? ""] = [.. job.Flows];
    }

    private double HighLimit(double recorded) => recorded + Math.Max(recorded * options.HighTolerance, options.LeastRiseKilopascals);

    private double? UsualFlow(string? job) =>
        job is not null && _flowOfRuns.TryGetValue(job, out var flows) && flows.Count >= RunsThatTeach ? flows.Order().ElementAt(flows.Count / 2) : null;

    private void EndRun()
    {
        if (_job is { } job && _flow is { } flow && _flowSeconds >= LeastRunSeconds && !_breach)
        {
            if (!_flowOfRuns.TryGetValue(job, out var flows) && _flowOfRuns.Count < MostJobs)
                _flowOfRuns.Add(job, flows = []);
            if (flows is { Count: < RunsThatTeach })
                flows.Add(flow);
        }

        _job = null;
        _run = 0;
        _pressure = null;
        _flow = null;
        _flowSeconds = 0;
        _badSince = null;
        _goodSince = null;
        _breach = false;
    }

    private Verdict Say(Reading reading, double recorded)
    {
        var judgement = _breach ? Judgement.Breach : Judgement.Normal;
        return _byFlow && _breach
            ? new Verdict(judgement, _flow, UsualFlow(reading.Run?.Job) * (1 - options.FlowTolerance))
            : new Verdict(judgement, _pressure, HighLimit(recorded));
    }

    private static double Smooth(double? before, double value, Instant at, ref Instant lastAt)
    {
        var seconds = at.SecondsSince(lastAt);
        lastAt = at;
        if (before is null || seconds > 60)
            return value;
        return before.Value + ((1 - Math.Exp(-seconds / SmoothSeconds)) * (value - before.Value));
    }

    private sealed class JobFlow
    {
        public string? Job;
        public double[] Flows = [];

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Job);
            state.Walk(ref Flows);
        }
    }
}
