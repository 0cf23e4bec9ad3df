using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Reads a trend out of a store. Nothing is written.</summary>
public sealed class TrendSource(ITelemetryStore store, LaserWatchOptions options)
{
    /// <summary>Shorter losses than this hide no day.</summary>
    internal static readonly TimeSpan LeastGap = TimeSpan.FromHours(1);

    /// <summary>The trends of one machine, which the store knows.</summary>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async Task<TrendAnswer> GatherAsync(TrendQuestion question, CancellationToken stop)
    {
        var table = new ChannelTable();
        foreach (var (name, unit) in options.DeclaredUnits())
            table.Declare(name, unit);
        var stored = await store.ReadChannelsAsync(question.Machine, table, stop).ConfigureAwait(false);
        if (stored.FirstOrDefault(c => c.Name == question.Channel) is not { } channel)
            return TrendAnswer.None(NotStored(question, [.. stored.Select(c => c.Name)]));

        var frame = await FrameAsync(question, channel, stop).ConfigureAwait(false);
        if (channel == Channel.TubeCurrent)
        {
            var jobs = await JobsAsync(stop).ConfigureAwait(false);
            var tubes = new TubeHistory(frame.Options, jobs);
            await new HistoryReading(store, table).RunAsync(question.Machine, Instant.MinValue, question.To, [tubes], stop).ConfigureAwait(false);
            if (tubes.Tubes.Any(tube => tubes.PowersOf(tube.Number).Count > 0))
                return OfTubes(tubes, question, frame);
            if (question.Power is not null || tubes.SeesPower || jobs.InForce.Any(record => record.Power is not null))
                return TrendAnswer.None(NeverJudged(question, tubes, frame.Options));
            frame = frame with
            {
                Cautions = [.. frame.Cautions, "No power is stored, so the current cannot be held against a baseline at fixed power: this is the plain current, which moves with the powers in use."],
            };
        }

        return await MeasuredAsync(question, channel, stored, table, frame, stop).ConfigureAwait(false);
    }

    private async Task<TrendAnswer> MeasuredAsync(
        TrendQuestion question, Channel channel, IReadOnlyList<Channel> stored, ChannelTable table, TrendFrame frame, CancellationToken stop)
    {
        var beamBy = !ChannelHistory.NeedsBeam(channel) ? null
            : stored.Contains(Channel.Lasing) ? Channel.Lasing
            : stored.Contains(Channel.TubeCurrent) ? Channel.TubeCurrent
            : null;
        var history = new ChannelHistory(channel, beamBy, frame.Options);
        await new HistoryReading(store, table).RunAsync(question.Machine, question.From, question.To, [history], stop).ConfigureAwait(false);
        var trend = MeasuredTrend.Of(channel, history.Days, beamBy is not null, frame);
        return trend.Days.Count > 0 ? new([trend], null)
            : TrendAnswer.None($"{question.Machine} has no {(beamBy is null ? "" : "beam-on ")}samples of {channel.Name} in that time; widen --from and --to.");
    }

    private TrendAnswer OfTubes(TubeHistory history, TrendQuestion question, TrendFrame frame)
    {
        var tubes = history.Tubes;
        if (question is { AllTubes: false, Tube: { } number } && tubes.All(tube => tube.Number != number))
            return TrendAnswer.None($"{question.Machine} has no tube {number}; there is {string.Join("; ", tubes.Select(tube => tube.Words))}.");
        var wanted = question.AllTubes ? tubes : [tubes[(question.Tube ?? tubes.Count) - 1]];
        List<ChannelTrend> trends = [];
        foreach (var tube in wanted)
        {
            var trend = TubeTrend.Of(history, Described(tube, question.Machine), question.Power, frame);
            if (trend.Days.Count > 0)
                trends.Add(trend);
        }

        return trends.Count > 0 ? new(trends, null) : TrendAnswer.None(NoDays(history, wanted, question));
    }

    // What the configuration says of the tube that is in now, where the log does not.
    private TubePeriod Described(TubePeriod tube, string machine) =>
        tube.Removed is null && options.Machines.TryGetValue(machine, out var described) && described.Tube is { } known
            ? tube with
            {
                Serial = tube.Serial ?? known.Serial,
                Installed = tube.Installed ?? options.RulesOf(machine).TubeLife.Installed,
            }
            : tube;

    private async Task<TrendFrame> FrameAsync(TrendQuestion question, Channel channel, CancellationToken stop)
    {
        var services = await store.ReadServiceEventsAsync(question.Machine, Instant.MinValue, question.To, stop).ConfigureAwait(false);
        var gaps = await store.ReadGapsAsync(question.Machine, question.From, question.To, stop).ConfigureAwait(false);
        var alarms = await store.ReadAlarmChangesAsync(question.Machine, question.From, question.To, stop).ConfigureAwait(false);
        return new TrendFrame(
            question.Machine, options.RulesOf(question.Machine), question.From, question.To, services,
            [
                .. gaps.Where(gap => gap.To - gap.From >= LeastGap).Select(gap => new TrendGap(gap.From, gap.To, $"samples were lost: {gap.Reason}")),
                .. LeftOut(services),
            ],
            [.. SensorFaults(channel, alarms)]);
    }

    /// <summary>The annotated spans that no estimate is made of.</summary>
    internal static IEnumerable<TrendGap> LeftOut(IEnumerable<ServiceEvent> services) =>
        AnnotationBook.Of(services).InForce.Where(a => a.LeavesOut).Select(a => new TrendGap(a.From, a.To, $"left out: annotated as {a.Words}"));

    /// <summary>What must be minded of a channel whose sensor was found not to tell the truth.</summary>
    internal static IEnumerable<string> SensorFaults(Channel channel, IReadOnlyList<AlarmChange> alarms) => alarms
        .Where(alarm => alarm.Condition is Conditions.SensorStuck or Conditions.SensorImplausible && alarm.State == AlarmState.Unacknowledged)
        .Where(alarm => alarm.Evidence.Any(evidence => evidence.Name == channel.Name))
        .GroupBy(alarm => alarm.Condition)
        .Select(group => $"{group.Key} was raised for {channel.Name} {group.Count()} time(s) in that time, first on {group.First().Time.ToString()[..10]}: what was stored then may not be true.");

    private async Task<JobBook> JobsAsync(CancellationToken stop)
    {
        var jobs = new JobBook();
        foreach (var record in (await store.ReadJobRecordsAsync(stop).ConfigureAwait(false)).Concat(options.JobRecords))
            jobs.Add(record);
        return jobs;
    }

    private static string NotStored(TrendQuestion question, IReadOnlyList<string> stored) => stored.Count == 0
        ? $"the store has no samples of {question.Machine} at all."
        : NearestWord.To(question.Channel, stored) is { } near
            ? $"the store has no samples of {question.Machine}'s '{question.Channel}'; did you mean {near}? There is {string.Join(", ", stored)}."
            : $"the store has no samples of {question.Machine}'s '{question.Channel}'; there is {string.Join(", ", stored)}.";

    private static string NeverJudged(TrendQuestion question, TubeHistory tubes, MonitorOptions rules)
    {
        var lacks = new List<string>();
        if (!tubes.SeesCurrent)
            lacks.Add("no tube_current in that time");
        if (!tubes.SeesPower)
            lacks.Add("no power");
        var why = lacks.Count > 0 ? string.Join(" and ", lacks) + " is stored"
            : string.Create(CultureInfo.InvariantCulture, $"the beam was never steady at {rules.TubeCurrent.LeastPowerPercent:0.#} % power or more in a run that is known to cut");
        return $"there is no health of {question.Machine}'s tube to tell: {why}.";
    }

    private static string NoDays(TubeHistory history, IReadOnlyList<TubePeriod> tubes, TrendQuestion question)
    {
        var powers = tubes.SelectMany(tube => history.PowersOf(tube.Number)).GroupBy(power => power.Percent).OrderBy(group => group.Key)
            .Select(group => string.Create(CultureInfo.InvariantCulture, $"{group.Key:0} %")).ToList();
        var which = tubes.Count == 1 ? tubes[0].Words : "no tube";
        if (question.Power is { } power && powers.Count > 0)
            return string.Create(CultureInfo.InvariantCulture, $"{question.Machine}'s {which} has no steady beam at {power:0.#} % power in that time; it was judged at {string.Join(", ", powers)}.");
        return powers.Count > 0
            ? $"{question.Machine}'s {which} has no steady beam in that time; widen --from and --to."
            : $"{question.Machine}'s {which} has no steady beam yet; --tube all shows those before.";
    }
}
