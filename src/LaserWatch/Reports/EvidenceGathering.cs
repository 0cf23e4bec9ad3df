using System.Reflection;
using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>Puts together what a store and a configuration know of one tube.</summary>
/// <param name="tube">Counted from 1 in the order in which they were in; null: the one that is in now, or was in last.</param>
public sealed class EvidenceGathering(ITelemetryStore store, LaserWatchOptions options, string machine, int? tube)
{
    /// <summary>The tubes that were found; complete after <see cref="GatherAsync"/>.</summary>
    public IReadOnlyList<TubePeriod> Tubes { get; private set; } = [];

    /// <param name="from">Included; before the tube was put in: from then on.</param>
    /// <param name="to">Not included; after the last sample, or after the tube was taken out: until then.</param>
    /// <returns>Null where there is no such tube; see <see cref="Tubes"/>.</returns>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async Task<EvidenceReport?> GatherAsync(Instant from, Instant to, Instant now, CancellationToken stop)
    {
        var table = new ChannelTable();
        foreach (var (name, unit) in options.DeclaredUnits())
            table.Declare(name, unit);
        var extent = await store.ReadExtentAsync(machine, stop).ConfigureAwait(false);
        var channels = await store.ReadChannelsAsync(machine, table, stop).ConfigureAwait(false);
        var jobs = new JobBook();
        foreach (var record in (await store.ReadJobRecordsAsync(stop).ConfigureAwait(false)).Concat(options.JobRecords))
            jobs.Add(record);
        if (extent is { } held && to > held.Last)
            to = new Instant(held.Last.UnixNanoseconds + 1);

        var log = await store.ReadServiceEventsAsync(machine, Instant.MinValue, to, stop).ConfigureAwait(false);
        var lastReplacement = log.LastOrDefault(TubeConditions.Replaces)?.At;
        var rules = options.RulesOf(machine);
        var health = new TubeHistory(rules, jobs);
        var hours = new TubeHours(rules);
        var conditions = new TubeConditions(
            channels, installed => new OperatingConditions(installed == lastReplacement ? rules : WithoutSheet(rules), jobs, channels, from, to));
        await new HistoryReading(store, table).RunAsync(machine, Instant.MinValue, to, [health, hours, conditions], stop).ConfigureAwait(false);

        Tubes = health.Tubes;
        if (tube is < 1 || tube > Tubes.Count)
            return null;
        var period = Tubes[(tube ?? Tubes.Count) - 1];
        var end = period.Removed is { } removed && removed < to ? removed : to;
        var summary = conditions.Of(period.Installed).Finish(end);
        var age = hours.AgeOf(period, end);
        var begin = Latest(from, age.Installed ?? period.Installed ?? summary.First ?? from);
        return await FillAsync(period, health, age, summary, log, rules, begin, end, now, stop).ConfigureAwait(false);
    }

    private async Task<EvidenceReport> FillAsync(
        TubePeriod period, TubeHistory health, Life.TubeAge age, OperatingSummary summary, IReadOnlyList<ServiceEvent> log, MonitorOptions rules,
        Instant begin, Instant end, Instant now, CancellationToken stop)
    {
        var described = options.Machines.GetValueOrDefault(machine);
        var sheet = period.Removed is null ? described?.Tube : null;
        var gaps = await store.ReadGapsAsync(machine, begin, end, stop).ConfigureAwait(false);
        var ignored = await store.ReadIgnoredAsync(machine, stop).ConfigureAwait(false);
        var alarms = await store.ReadAlarmChangesAsync(machine, begin, end, stop).ConfigureAwait(false);
        // A tube is put in before the first cut, and what was done on that day belongs to it.
        var services = log.Where(service => service.At >= begin && service.At < end).ToList();
        var known = period with { Serial = period.Serial ?? sheet?.Serial, Installed = period.Installed ?? age.Installed };
        var frame = new TrendFrame(
            machine, rules, begin, end, services,
            [
                .. gaps.Where(gap => gap.To - gap.From >= TrendSource.LeastGap).Select(gap => new TrendGap(gap.From, gap.To, $"samples were lost: {gap.Reason}")),
                .. TrendSource.LeftOut(log),
            ],
            [.. TrendSource.SensorFaults(Channel.TubeCurrent, alarms)]);
        var trend = TubeTrend.Of(health, known, null, frame);
        return new EvidenceReport
        {
            Machine = machine,
            Version = Version,
            MadeAt = now,
            From = begin,
            To = end,
            Identity = IdentityOf(described, sheet, known),
            Rating = new(
                sheet?.RatedHours ?? rules.TubeLife.RatedHours, sheet?.RatedHours is not null, sheet?.RatedMonths ?? rules.TubeLife.RatedMonths,
                sheet?.RatedMonths is not null, period.Removed is null ? rules.TubeCurrent.RatedCurrentMilliamps : null),
            Age = age,
            Period = known,
            Current = trend.Days.Count > 0 ? trend : null,
            Conditions = summary,
            Alarms = AlarmHistory.Of(alarms, end),
            Services = services,
            Gaps = [.. gaps.Select(gap => new KnownGap(gap.From, gap.To, gap.Reason, gap.Lost))],
            Duplicates = ignored.Duplicates,
            Conflicts = ignored.Conflicts,
            Sensors = described is null ? [] : SensorWords.Of(described),
        };
    }

    private static Identity IdentityOf(MachineOptions? machine, TubeOptions? sheet, TubePeriod period) => new()
    {
        Shop = machine?.Shop,
        MachineModel = machine?.Model,
        TubeMaker = sheet?.Maker,
        TubeModel = sheet?.Model,
        TubeSerial = period.Serial,
        Supply = sheet?.Supply,
        Purchased = sheet?.Purchased,
        Installed = sheet?.Installed,
        Claim = sheet?.Claim,
        Terms = sheet?.Terms,
    };

    // What the configuration says of the tube that is in now says nothing of one before it.
    private static MonitorOptions WithoutSheet(MonitorOptions rules) =>
        rules with { TubeCurrent = rules.TubeCurrent with { RatedCurrentMilliamps = null } };

    private static Instant Latest(Instant a, Instant b) => a > b ? a : b;

    private static string Version { get; } =
        typeof(EvidenceGathering).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion.Split('+')[0] ?? "";
}
