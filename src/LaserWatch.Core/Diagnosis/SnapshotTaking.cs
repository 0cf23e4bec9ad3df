using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Diagnosis;

/// <summary>Takes what a watch knows of its machine at one moment.</summary>
internal sealed class SnapshotTaking(Reading reading, MachineModels models, AlarmBoard board, MonitorOptions options)
{
    // From this part of a sag on a fall has its likely causes, before it is an alarm.
    private const double PartOfSag = 0.6;

    /// <param name="newest">Time of the newest sample; null where nothing was ever heard.</param>
    /// <param name="job">The job whose record to compare with; null: that of the last run.</param>
    public MachineSnapshot Take(string machine, Instant? newest, JobBook jobs, string? job)
    {
        var digest = models.Digest;
        var began = digest.Began;
        var name = job ?? digest.Job;
        var record = name is null ? null : jobs.Find(name, began ?? reading.At);
        var tube = TubeOf(began);
        var raster = digest.Job is { } last && jobs.Find(last, began ?? reading.At)?.Mode == CutMode.Raster;
        return new MachineSnapshot(
            machine, newest, options, record,
            began is { } since ? new LastRun(digest.Job, since, digest.Last, raster) : null,
            [.. Channel.Canonical.Where(reading.Knows).Select(Of)],
            [.. board.Raised.Select(l => new AlarmLook(l.Raised!, l.IsBreach)).Where(a => a.Stands || (began is { } start && a.Raised.Time >= start))],
            tube, [.. models.Ledger.Parts.Select(Of)], models.Ledger.TestCuts, OpinionsOf(tube));
    }

    // The blocks of the last run alone: those before were of a good cut.
    private TubeLook? TubeOf(Instant? began)
    {
        if (models.Tube.AtLastPower is not { } window)
            return null;
        var blocks = 0;
        while (blocks < window.Count && window.Time(blocks) >= began)
            blocks++;
        return window.Recent(blocks, least: 1) is { } recent ? new TubeLook(recent.Ratio, recent.Error, models.Tube.LastPower) : null;
    }

    private IReadOnlyList<Opinion> OpinionsOf(TubeLook? tube)
    {
        if (tube is null || tube.Ratio > 1 - (PartOfSag * options.TubeCurrent.Sag) || board[Conditions.TubeCurrentSag].State != AlarmState.Normal
            || board[Conditions.TubeCurrentStep].State != AlarmState.Normal)
            return [];
        var causes = TubeCauses.Rank(TubeWords.Symptoms(models.Tube, models.Ledger, options.TubeLife, 1 - tube.Ratio, models.Tube.Course.Present()));
        return [new Opinion("the course of the tube's current ranks it so", causes.ToDictionary(c => c.Name, c => c.Weight))];
    }

    // Beam before the watch began was not counted, and without a sign of the beam there is nothing to count by.
    private ServedPart Of(PartUpkeep part)
    {
        var counted = models.Ledger.Began is { } began && part.At >= began && (SeesAnyBeam || part.BeamHoursSince > 0);
        return new ServedPart(part.Part, part.LastAction, counted ? part.BeamHoursSince : null, part.DaysSince(reading.At));
    }

    private bool SeesAnyBeam => reading.Knows(CanonicalIndex.Lasing) || reading.Knows(CanonicalIndex.TubeCurrent) || reading.Knows(CanonicalIndex.Runtime);

    private ChannelLook Of(Channel channel)
    {
        var (run, usual) = (models.Digest.Of(channel), models.Digest.Usual(channel));
        return new ChannelLook(
            channel, reading[channel], reading.TimeOf(channel),
            reading.FaultOf(channel) == ChannelFault.None ? null : Reading.Name(reading.FaultOf(channel)),
            run?.Median, run?.Deviation, run?.Samples ?? 0, usual?.Value, usual?.Runs ?? 0);
    }
}
