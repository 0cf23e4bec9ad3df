using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Rehearsal;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>One configuration's rules on a stage of their own, and the alarms they raise there.</summary>
public sealed class RehearsedRules
{
    private readonly AlarmKeeping _alarms = new();

    public RehearsedRules(LaserWatchOptions options)
    {
        var jobs = new JobBook();
        foreach (var record in options.JobRecords)
            jobs.Add(record);
        Stage = new ReplayStage(new Shop(options.RulesOf, jobs), _alarms.Take);
    }

    internal ReplayStage Stage { get; }

    /// <summary>By when they were raised; what stands still stood at the end of what was played.</summary>
    public IReadOnlyList<RaisedAlarm> Alarms => _alarms.Until(Stage.Last ?? Instant.MinValue);
}
