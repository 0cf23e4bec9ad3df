using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Diagnosis;

/// <summary>What the watch knows of a machine at one moment, for a diagnosis. What is not known is null or not in the lists.</summary>
/// <param name="Newest">Time of the newest sample; null where nothing was ever heard.</param>
/// <param name="Record">The recorded values to compare with; null where the job is unknown or was not recorded.</param>
/// <param name="Run">The last run that had its beam on, still under way or over.</param>
/// <param name="Channels">The canonical channels that were ever heard.</param>
/// <param name="Alarms">Raised in or after the last run, or still standing.</param>
/// <param name="Tube">Tube current against the baseline the watch has learned.</param>
/// <param name="TestCuts">Logged test cuts, oldest first.</param>
/// <param name="Opinions">How other rules rank the causes of what they see, beyond what stands in the alarms' evidence; by the rules' own names of causes.</param>
public sealed record MachineSnapshot(
    string Machine, Instant? Newest, MonitorOptions Rules, JobRecord? Record, LastRun? Run, IReadOnlyList<ChannelLook> Channels,
    IReadOnlyList<AlarmLook> Alarms, TubeLook? Tube, IReadOnlyList<ServedPart> Served, IReadOnlyList<ServiceEvent> TestCuts,
    IReadOnlyList<Opinion> Opinions)
{
    /// <summary>A machine of which nothing is known.</summary>
    public static MachineSnapshot Unknown(string machine, MonitorOptions rules) =>
        new(machine, null, rules, null, null, [], [], null, [], [], []);

    public ChannelLook? this[Channel channel] => Channels.FirstOrDefault(c => c.Channel == channel);

    public AlarmLook? Alarm(string condition) => Alarms.FirstOrDefault(a => a.Raised.Condition == condition);
}

/// <param name="Job">Null where it is not known.</param>
/// <param name="Until">The newest sample with the beam on.</param>
public sealed record LastRun(string? Job, Instant Began, Instant Until, bool IsRaster);

/// <summary>One channel, in its unit.</summary>
/// <param name="Now">The newest value, of <paramref name="At"/>.</param>
/// <param name="Fault">Why the sensor is not believed now; null where it is.</param>
/// <param name="InRun">Median in the last run with the beam on.</param>
/// <param name="Deviation">Robust standard deviation of one sample in the run.</param>
/// <param name="Usual">Mean of that median over earlier runs of the same job, so many as <paramref name="UsualRuns"/> (at most the last ten count).</param>
public sealed record ChannelLook(
    Channel Channel, double Now, Instant At, string? Fault, double? InRun, double? Deviation, long Samples, double? Usual, int UsualRuns);

/// <param name="Raised">The change by which it was raised, with its evidence.</param>
/// <param name="Stands">False: it has returned since.</param>
public sealed record AlarmLook(AlarmChange Raised, bool Stands);

/// <param name="Ratio">Tube current over the tube's baseline, median of the newest steady blocks at the last power.</param>
/// <param name="Error">Its standard error.</param>
/// <param name="Power">That power, %.</param>
public sealed record TubeLook(double Ratio, double Error, double Power);
