using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>What is no sample: job records, runs, services and alarms of a machine, as one table in time order.</summary>
/// <param name="Kind">The recording's own word: <c>job_record</c>, <c>job_run</c>, <c>service</c>, <c>alarm</c>.</param>
/// <param name="Subject">The job, the part, or the alarm's condition.</param>
/// <param name="Action">Start or end, what was done, or the alarm's new state.</param>
/// <param name="Text">Material, note or message.</param>
/// <param name="Details">A JSON object of all else; empty where there is nothing.</param>
internal sealed record EventRow(
    Instant At, string Kind, string Subject, string Action, string? Priority, double? Value, double? Limit, string? Unit, string? Job, string? By,
    string? Serial, string? Text, string Details);

internal static class EventTable
{
    /// <param name="from">Included; job records before it are there too, since runs refer to them.</param>
    /// <param name="to">Not included.</param>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static async Task<IReadOnlyList<EventRow>> ReadAsync(ITelemetryStore store, string machine, Instant from, Instant to, CancellationToken stop)
    {
        var records = await store.ReadJobRecordsAsync(stop).ConfigureAwait(false);
        var runs = await store.ReadJobRunsAsync(machine, from, to, stop).ConfigureAwait(false);
        var services = await store.ReadServiceEventsAsync(machine, from, to, stop).ConfigureAwait(false);
        var alarms = await store.ReadAlarmChangesAsync(machine, from, to, stop).ConfigureAwait(false);
        return
        [
            .. records.Where(record => record.RecordedAt < to).Select(Row)
                .Concat(services.Select(Row)).Concat(runs.Select(Row)).Concat(alarms.Select(Row)).OrderBy(row => row.At),
        ];
    }

    private static EventRow Row(JobRecord record) => new(
        record.RecordedAt, "job_record", record.Job, "recorded", null, null, null, null, record.Job, null, null, record.Material,
        DetailsJson.Of(
            ("power_percent", record.Power?.Value), ("speed_mm_per_s", record.SpeedMmPerS), ("air_pressure_kpa", record.AirPressure?.Value),
            ("air_pressure_tolerance", record.AirPressureTolerance), ("tube_current_ma", record.TubeCurrent?.Value),
            ("mode", record.Mode == CutMode.Raster ? "raster" : "vector")));

    private static EventRow Row(JobEvent run) => new(
        run.At, "job_run", run.Job ?? "", run.Kind == JobEventKind.Start ? "start" : "end", null, null, null, null, run.Job, null, null, null,
        run.Inferred ? DetailsJson.Of(("inferred", "true")) : "");

    private static EventRow Row(ServiceEvent service) => new(
        service.At, "service", service.Part, service.Action, null, null, null, null, null, null, service.Serial, service.Note,
        service.Details.Count == 0 ? "" : DetailsJson.Of([.. service.Details.Select(detail => (detail.Key, (object?)detail.Value))]));

    private static EventRow Row(AlarmChange alarm) => new(
        alarm.Time, "alarm", alarm.Condition, alarm.State.Name(), alarm.Priority.Name(), alarm.Value, alarm.Limit, alarm.Unit, alarm.Job, alarm.By, null,
        alarm.Message,
        alarm.Evidence.Count == 0 ? "" : DetailsJson.Of([.. alarm.Evidence.Select(e => (e.Name, e.Number is { } number ? number : (object?)e.Text))]));
}
