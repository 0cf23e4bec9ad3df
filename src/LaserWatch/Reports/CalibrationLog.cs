using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>Keeps in the service log which calibration was in force since when.</summary>
/// <remarks>
/// An entry is a service event, part <c>calibration</c>, action <c>in-force</c>: a hash of what the configuration says of the machine's sensors, and for each
/// sensor its chain in words. One is made only where the words differ from those of the last entry, so each says since when it held.
/// </remarks>
public static class CalibrationLog
{
    public const string Part = "calibration";
    public const string Action = "in-force";
    private const string HashField = "hash";

    /// <summary>The entries that are missing, one a machine at most; machines without described sensors get one only after they had some.</summary>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static async ValueTask<IReadOnlyList<ServiceEvent>> MissingAsync(ITelemetryStore store, LaserWatchOptions options, Instant now, CancellationToken stop)
    {
        List<ServiceEvent> missing = [];
        foreach (var (name, machine) in options.Machines)
        {
            var log = await store.ReadServiceEventsAsync(name, Instant.MinValue, Instant.MaxValue, stop).ConfigureAwait(false);
            var last = log.LastOrDefault(entry => entry.Part == Part && entry.Action == Action);
            var sensors = SensorWords.Of(machine);
            var hash = SensorWords.Hash(sensors);
            if (last is null ? sensors.Count > 0 : last.Details.GetValueOrDefault(HashField) != hash)
                missing.Add(Entry(name, now, sensors, hash));
        }

        return missing;
    }

    private static ServiceEvent Entry(string machine, Instant now, IReadOnlyList<SensorCalibration> sensors, string hash)
    {
        var details = new Dictionary<string, string>(StringComparer.Ordinal) { [HashField] = hash };
        for (var i = 0; i < sensors.Count; i++)
            details[$"sensor_{i + 1}"] = $"{sensors[i].Channels} from {sensors[i].Source}: {sensors[i].Chain}";
        return new ServiceEvent(
            machine, now, Part, Action, null,
            sensors.Count == 0 ? "no sensor is described any more: values are taken as sent" : $"{sensors.Count} sensor(s) as configured", details);
    }
}
