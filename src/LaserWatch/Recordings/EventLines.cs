using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Job records, job runs, service events and alarms as lines of a recording, both ways.</summary>
/// <remarks>Tags and fields are those of a recording in config/interface.md. A new field needs its line in the writing and in the reading.</remarks>
public static class EventLines
{
    public const string Telemetry = "telemetry";
    public const string JobRecordName = "job_record";
    public const string JobRunName = "job_run";
    public const string ServiceName = "service";
    public const string AlarmName = "alarm";

    /// <remarks>A record that holds nothing beside its job is written with its mode, as every record has one.</remarks>
    public static void Write(LineFormatter lines, JobRecord record)
    {
        lines.Measurement(JobRecordName).Tag("job", record.Job);
        if (record.Material is { } material)
            lines.Field("material", material);
        WriteNumber(lines, "power", record.Power?.Value);
        WriteNumber(lines, "speed", record.SpeedMmPerS);
        WriteNumber(lines, "air_pressure", record.AirPressure?.Value);
        WriteNumber(lines, "tube_current", record.TubeCurrent?.Value);
        lines.Field("mode", record.Mode == CutMode.Raster ? "raster" : "vector");
        WriteNumber(lines, "air_pressure_tolerance", record.AirPressureTolerance);
        lines.Time(record.RecordedAt);
    }

    public static void Write(LineFormatter lines, JobEvent run)
    {
        lines.Measurement(JobRunName).Tag("machine", run.Machine).Field("event", run.Kind == JobEventKind.Start ? "start" : "end");
        if (run.Job is { } job)
            lines.Field("job", job);
        if (run.Inferred)
            lines.Field("inferred", true);
        lines.Time(run.At);
    }

    public static void Write(LineFormatter lines, ServiceEvent service)
    {
        lines.Measurement(ServiceName).Tag("machine", service.Machine).Field("part", service.Part).Field("action", service.Action);
        if (service.Serial is { } serial)
            lines.Field("serial", serial);
        if (service.Note is { } note)
            lines.Field("note", note);
        foreach (var (key, value) in service.Details.OrderBy(detail => detail.Key, StringComparer.Ordinal))
        {
            if (key is not ("" or "part" or "action" or "serial" or "note"))
                lines.Field(key, value);
        }

        lines.Time(service.At);
    }

    public static void Write(LineFormatter lines, AlarmChange alarm)
    {
        lines.Measurement(AlarmName).Tag("machine", alarm.Machine).Tag("condition", alarm.Condition);
        lines.Field("state", alarm.State.Name()).Field("priority", alarm.Priority.Name());
        WriteNumber(lines, "value", alarm.Value);
        WriteNumber(lines, "limit", alarm.Limit);
        if (alarm.Unit.Length > 0)
            lines.Field("unit", alarm.Unit);
        if (alarm.Job is { } job)
            lines.Field("job", job);
        if (alarm.Message.Length > 0)
            lines.Field("message", alarm.Message);
        if (alarm.Evidence.Count > 0)
            lines.Field("evidence", AlarmJson.EvidenceText(alarm.Evidence));
        if (alarm.Checks.Count > 0)
            lines.Field("checks", AlarmJson.ChecksText(alarm.Checks));
        if (alarm.By is { } by)
            lines.Field("by", by);
        lines.Time(alarm.Time);
    }

    public static bool TryRead(ParsedLine line, out JobRecord? record, out string? mistake)
    {
        record = null;
        mistake = line.Tag("job") is null ? "has no tag 'job'" : null;
        var material = OptionalText(line, "material", ref mistake);
        var power = OptionalNumber(line, "power", ref mistake);
        var speed = OptionalNumber(line, "speed", ref mistake);
        var pressure = OptionalNumber(line, "air_pressure", ref mistake);
        var current = OptionalNumber(line, "tube_current", ref mistake);
        var tolerance = OptionalNumber(line, "air_pressure_tolerance", ref mistake);
        var mode = OptionalText(line, "mode", ref mistake);
        if (mode is not (null or "vector" or "raster"))
            mistake ??= $"has a mode '{mode}'; it is \"vector\" or \"raster\"";
        if (tolerance is <= 0 or >= 1)
            mistake ??= "has an air_pressure_tolerance that is no fraction between 0 and 1; write 0.1 for ten percent";
        if (mistake is not null)
            return false;
        record = new JobRecord(
            line.Tag("job")!, line.Time, material,
            power is { } p ? new PowerPercent(p) : null, speed,
            pressure is { } a ? new Kilopascals(a) : null,
            current is { } c ? new Milliamps(c) : null,
            mode == "raster" ? CutMode.Raster : CutMode.Vector, tolerance);
        return true;
    }

    public static bool TryRead(ParsedLine line, out JobEvent? run, out string? mistake)
    {
        run = null;
        mistake = MachineMistake(line);
        var kind = OptionalText(line, "event", ref mistake);
        var job = OptionalText(line, "job", ref mistake);
        if (kind is not ("start" or "end"))
            mistake ??= "has no event; it is \"start\" or \"end\"";
        var inferred = line.Field("inferred");
        if (inferred is { Kind: not FieldKind.Truth })
            mistake ??= "has a field 'inferred' that is neither true nor false";
        if (mistake is not null)
            return false;
        run = new JobEvent(
            line.Tag("machine")!, line.Time, kind == "start" ? JobEventKind.Start : JobEventKind.End, job is "" ? null : job,
            inferred is { Number: 1 });
        return true;
    }

    public static bool TryRead(ParsedLine line, out ServiceEvent? service, out string? mistake)
    {
        service = null;
        mistake = MachineMistake(line);
        var part = OptionalText(line, "part", ref mistake);
        var action = OptionalText(line, "action", ref mistake);
        var serial = OptionalText(line, "serial", ref mistake);
        var note = OptionalText(line, "note", ref mistake);
        if (string.IsNullOrEmpty(part))
            mistake ??= "has no part, such as \"tube\"";
        if (string.IsNullOrEmpty(action))
            mistake ??= "has no action, such as \"replaced\"";
        if (mistake is not null)
            return false;
        var details = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var field in line.Fields)
        {
            if (field.Key is not ("part" or "action" or "serial" or "note"))
                details[field.Key] = field.Kind == FieldKind.Whole ? field.Text[..^1] : field.Text;
        }

        service = new ServiceEvent(
            line.Tag("machine")!, line.Time, part!, action!, serial, note, details.Count == 0 ? ServiceEvent.NoDetails : details);
        return true;
    }

    public static bool TryRead(ParsedLine line, out AlarmChange? alarm, out string? mistake)
    {
        alarm = null;
        mistake = MachineMistake(line);
        if (line.Tag("condition") is null)
            mistake ??= "has no tag 'condition'";
        AlarmPriority priority = default;
        if (!AlarmNames.TryParse(OptionalText(line, "state", ref mistake) ?? "", out AlarmState state))
            mistake ??= "has no state of an alarm, such as \"unacknowledged\"";
        if (!AlarmNames.TryParse(OptionalText(line, "priority", ref mistake) ?? "", out priority))
            mistake ??= "has no priority: low, medium, high or urgent";
        var value = OptionalNumber(line, "value", ref mistake);
        var limit = OptionalNumber(line, "limit", ref mistake);
        var unit = OptionalText(line, "unit", ref mistake);
        var job = OptionalText(line, "job", ref mistake);
        var message = OptionalText(line, "message", ref mistake);
        var by = OptionalText(line, "by", ref mistake);
        var evidence = new List<Evidence>();
        var checks = new List<string>();
        if (OptionalText(line, "evidence", ref mistake) is { } evidenceText && !AlarmJson.TryReadEvidence(evidenceText, evidence))
            mistake ??= "has evidence that is not a JSON object of numbers and texts";
        if (OptionalText(line, "checks", ref mistake) is { } checksText && !AlarmJson.TryReadChecks(checksText, checks))
            mistake ??= "has checks that are not a JSON list of texts";
        if (mistake is not null)
            return false;
        alarm = new AlarmChange(
            line.Time, line.Tag("machine")!, line.Tag("condition")!, state, priority, value, limit, unit ?? "", job, message ?? "", evidence,
            checks, by);
        return true;
    }

    /// <summary>What is wrong with the machine of a line; null where nothing is.</summary>
    public static string? MachineMistake(ParsedLine line)
    {
        var machine = line.Tag("machine");
        return machine is null ? "has no tag 'machine'"
            : !MachineName.IsValid(machine) ? $"names a machine '{machine}'; a name is {MachineName.Rule}"
            : null;
    }

    private static void WriteNumber(LineFormatter lines, string key, double? value)
    {
        // A limit can be computed, and then need not be finite; the format has no such numbers.
        if (value is { } number && double.IsFinite(number))
            lines.Field(key, number);
    }

    private static string? OptionalText(ParsedLine line, string key, ref string? mistake)
    {
        if (line.Field(key) is not { } field)
            return null;
        if (field.Kind == FieldKind.Text)
            return field.Text;
        mistake ??= $"has a field '{key}' that is not text; text stands in double quotes";
        return null;
    }

    private static double? OptionalNumber(ParsedLine line, string key, ref string? mistake)
    {
        if (line.Field(key) is not { } field)
            return null;
        if (field.Kind is FieldKind.Number or FieldKind.Whole)
            return field.Number;
        mistake ??= $"has a field '{key}' that is not a number";
        return null;
    }
}
