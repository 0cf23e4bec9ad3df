using LaserWatch.Alarms;
using LaserWatch.Evaluation.Scenarios;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>Plays one scenario straight into a watch, and keeps what the watch says.</summary>
/// <remarks>As a replay does, it ticks the watch once a second of the scenario's time, up to 20 s after the last message.</remarks>
internal sealed class ScenarioRun : ITelemetrySink
{
    private const double TickingSeconds = 20;

    private readonly Scenario _scenario;
    private readonly Machine _machine;
    private readonly MachineWatch _watch;
    private readonly JobBook _book = new();
    private readonly Witness _witness;
    private readonly List<RaisedAlarm> _raised = [];
    private readonly HashSet<string> _standing = new(StringComparer.Ordinal);
    private double _heard = double.NegativeInfinity;
    private double _nextTick = double.NegativeInfinity;
    private Clocks? _atOnset;
    private Clocks? _atMaterial;
    private long _samples;

    private ScenarioRun(Scenario scenario)
    {
        _scenario = scenario;
        _machine = new Machine(scenario.Shop, scenario.Faults, scenario.Seed, scenario.StartDay);
        _watch = new MachineWatch(Machine.Name, MonitorOptions.Default, _book);
        _witness = new Witness(_machine);
    }

    public static Outcome Play(Scenario scenario)
    {
        var run = new ScenarioRun(scenario);
        run._machine.Run(scenario.Days, run);
        var end = Clocks.Of(run._machine);
        return new Outcome(scenario, run._raised, run._atOnset ?? end, run._atMaterial ?? end, end, run._samples);
    }

    public void Take(JobRecord record) => _book.Add(record);

    public void Take(JobEvent change) => Keep(_watch.Observe(change));

    public void Take(ServiceEvent service) => Keep(_watch.Observe(service));

    public void Take(Instant at, ReadOnlySpan<ChannelValue> values)
    {
        _heard = _machine.Time;
        _samples += values.Length;
        Keep(_watch.Observe(at, values));
    }

    public void StepDone(double time)
    {
        if (_atOnset is null && time >= _scenario.Truth.Onset)
            _atOnset = Clocks.Of(_machine);
        if (_atMaterial is null && time >= _scenario.Truth.Material)
            _atMaterial = Clocks.Of(_machine);
        _witness.StepDone(time);
        if (time - _heard > TickingSeconds)
        {
            _nextTick = double.NegativeInfinity;
            return;
        }

        if (time < _nextTick)
            return;
        _nextTick = Math.Floor(time) + 1;
        Keep(_watch.Tick(_machine.InstantOf(time)));
        _watch.TakeInferredRuns();
    }

    private void Keep(IReadOnlyList<AlarmChange> changes)
    {
        for (var i = 0; i < changes.Count; i++)
        {
            var change = changes[i];
            if (change.State != AlarmState.Unacknowledged)
            {
                _standing.Remove(change.Condition);
                continue;
            }

            // The same alarm grown worse, or of one more channel, has not come up anew.
            if (!_standing.Add(change.Condition))
                continue;
            var raised = new RaisedAlarm(_machine.Time, Clocks.Of(_machine), change);
            _raised.Add(raised);
            _witness.Judge(raised);
        }
    }
}
