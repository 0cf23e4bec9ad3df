using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Like alarms of several machines that began together: one thing they share is likelier than as many faults.</summary>
/// <param name="Kind">The thing that is shared: <c>air-supply</c>, <c>cooling</c>, <c>room-humidity</c> or <c>network</c>.</param>
/// <param name="What">What they share and what to look at, in words.</param>
/// <param name="Machines">The machines, in the order in which it reached them.</param>
/// <param name="Alarms">The alarms, in the same order, one of each machine.</param>
/// <remarks>Common practice of the trade, no published source. It ranks where to look; it proves nothing.</remarks>
public sealed record CommonCause(string Kind, string What, IReadOnlyList<string> Machines, IReadOnlyList<AlarmChange> Alarms)
{
    private static readonly Family[] Families =
    [
        new("air-supply", "air pressure lost or low", "look at the shared compressor or air supply first", false,
            [Conditions.AirPressureLost, Conditions.AirPressureLow]),
        new("cooling", "coolant hot, or soon to be", "look at the shared chiller, or at the room's temperature and ventilation, first", true,
            [Conditions.CoolantHot, Conditions.CoolantTimeToLimit]),
        new("room-humidity", "coolant near the dew point", "look at the room's humidity, or at the shared chiller's set point, first", false,
            [Conditions.CondensationRisk]),
        new("network", "sensors silent", "look at the network, the broker and the sensors' power first", false,
            [Conditions.SensorSilent]),
    ];

    /// <summary>When it reached the first machine.</summary>
    public Instant Since => Alarms[0].Time;

    /// <summary>The common causes that the alarms point to, those of most machines first; empty where they point to none.</summary>
    /// <param name="alarms">Changes that raised an alarm; others are passed over.</param>
    /// <param name="shopMachines">Machines of the shop; fewer than the alarms name means just those.</param>
    public static IReadOnlyList<CommonCause> In(IEnumerable<AlarmChange> alarms, int shopMachines, FloodOptions options)
    {
        var raised = alarms.Where(a => a.State == AlarmState.Unacknowledged).ToList();
        var machines = Math.Max(shopMachines, raised.Select(a => a.Machine).Distinct(StringComparer.Ordinal).Count());
        var enough = Math.Max(2, (int)Math.Ceiling(machines * options.CommonShare));
        return
        [
            .. Families.Select(family => Find(family, raised, machines, enough, options)).OfType<CommonCause>()
                .OrderByDescending(c => c.Machines.Count).ThenBy(c => c.Since),
        ];
    }

    /// <summary>The largest set of machines whose alarms of the family lie within its time, where that is enough of them.</summary>
    private static CommonCause? Find(Family family, List<AlarmChange> raised, int machines, int enough, FloodOptions options)
    {
        var within = TimeSpan.FromMinutes(family.IsSlow ? options.CommonCoolantWithinMinutes : options.CommonWithinMinutes);
        var ofFamily = raised.Where(a => family.Conditions.Contains(a.Condition))
            .OrderBy(a => a.Time).ThenBy(a => a.Machine, StringComparer.Ordinal).ThenBy(a => a.Condition, StringComparer.Ordinal).ToList();
        var best = MostMachinesWithin(ofFamily, within);
        if (best.Count < enough)
            return null;
        var names = best.Select(a => a.Machine).ToList();
        return new(
            family.Kind,
            $"{family.Words} on {best.Count} of {machines} machines ({Few(names)}) at about one time: {family.Look}",
            names, best);
    }

    /// <summary>Of each machine the first alarm, within the earliest span that holds the most machines.</summary>
    private static List<AlarmChange> MostMachinesWithin(List<AlarmChange> inOrder, TimeSpan span)
    {
        var inSpan = new Dictionary<string, int>(StringComparer.Ordinal);
        var (most, from, to) = (0, 0, 0);
        for (int first = 0, last = 0; last < inOrder.Count; last++)
        {
            inSpan[inOrder[last].Machine] = inSpan.GetValueOrDefault(inOrder[last].Machine) + 1;
            for (; inOrder[last].Time - inOrder[first].Time > span; first++)
            {
                if (--inSpan[inOrder[first].Machine] == 0)
                    inSpan.Remove(inOrder[first].Machine);
            }

            if (inSpan.Count > most)
                (most, from, to) = (inSpan.Count, first, last);
        }

        return [.. inOrder.Skip(from).Take(most == 0 ? 0 : to - from + 1).DistinctBy(a => a.Machine)];
    }

    private static string Few(List<string> names) =>
        names.Count <= 6 ? string.Join(", ", names) : $"{string.Join(", ", names.Take(5))} and {names.Count - 5} more";

    private sealed record Family(string Kind, string Words, string Look, bool IsSlow, string[] Conditions);
}
