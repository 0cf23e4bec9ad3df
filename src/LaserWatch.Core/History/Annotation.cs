using System.Globalization;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>What a person says of a span of a machine's past.</summary>
public enum AnnotationKind
{
    /// <summary>All was well: an alarm raised in it was a false one.</summary>
    Good,

    /// <summary>Something was wrong: an alarm should be raised in it, and nothing of it is learned.</summary>
    Faulty,

    /// <summary>Says nothing either way, such as a trial or a sensor on the bench: nothing of it is learned or counted.</summary>
    Ignore,
}

/// <summary>A span of a machine's past and what was the matter in it.</summary>
/// <remarks>
/// It is kept as an entry of the service log, part <c>annotation</c>, at the time its span begins: so store, recordings, exports, report and proof
/// carry it, and whoever reads the past in order meets it before the samples that it is about. One that is withdrawn stays in the log, and an entry with
/// the action <c>removed</c> and the same id beside it.
/// </remarks>
/// <param name="Id">Eight hex digits or whatever its maker chose.</param>
/// <param name="To">Not included.</param>
/// <param name="Cause">A cause of the diagnosis, of a faulty span; null: not told.</param>
/// <param name="Made">When it was entered; null: not told.</param>
public sealed record Annotation(
    string Machine, string Id, AnnotationKind Kind, Instant From, Instant To, string? Cause, string? Note, string? By, Instant? Made)
{
    public const string Part = "annotation";
    public const string Removed = "removed";

    private static readonly string[] Kinds = ["good", "faulty", "ignore"];

    /// <summary>Nothing is learned from what was measured in it.</summary>
    public bool LeavesOut => Kind != AnnotationKind.Good;

    /// <summary>Such as <c>faulty (hose-kink)</c>.</summary>
    public string Words => Cause is null ? NameOf(Kind) : $"{NameOf(Kind)} ({Cause})";

    public bool Covers(Instant at) => at >= From && at < To;

    public static string NameOf(AnnotationKind kind) => Kinds[(int)kind];

    public static bool IsOne(ServiceEvent service) => string.Equals(service.Part, Part, StringComparison.OrdinalIgnoreCase);

    /// <summary>Null where the entry is no annotation, withdraws one, or its span cannot be read.</summary>
    public static Annotation? Of(ServiceEvent service)
    {
        var kind = Array.FindIndex(Kinds, name => string.Equals(name, service.Action, StringComparison.OrdinalIgnoreCase));
        if (!IsOne(service) || kind < 0 || IdOf(service) is not { } id || TimeOf(service, "to") is not { } to)
            return null;
        var from = TimeOf(service, "from") ?? service.At;
        return from < to
            ? new(service.Machine, id, (AnnotationKind)kind, from, to, service.Details.GetValueOrDefault("cause"), service.Note, service.Details.GetValueOrDefault("by"), TimeOf(service, "made"))
            : null;
    }

    /// <summary>The id of the annotation that the entry withdraws; null where it withdraws none.</summary>
    public static string? WithdrawnBy(ServiceEvent service) =>
        IsOne(service) && string.Equals(service.Action, Removed, StringComparison.OrdinalIgnoreCase) ? IdOf(service) : null;

    /// <summary>As it stands in the service log.</summary>
    public ServiceEvent ToEvent() => Entry(NameOf(Kind), Note, By, Made, Cause);

    /// <summary>The entry that withdraws it.</summary>
    public ServiceEvent ToRemoval(string? by, Instant made) => Entry(Removed, null, by, made, null);

    private ServiceEvent Entry(string action, string? note, string? by, Instant? made, string? cause)
    {
        var details = new Dictionary<string, string>(StringComparer.Ordinal) { ["from"] = Text(From), ["to"] = Text(To), ["id"] = Id };
        if (cause is not null)
            details["cause"] = cause;
        if (by is not null)
            details["by"] = by;
        if (made is { } at)
            details["made"] = Text(at);
        return new(Machine, From, Part, action, null, note, details);
    }

    private static string? IdOf(ServiceEvent service) => service.Details.GetValueOrDefault("id") is { Length: > 0 } id ? id : null;

    private static string Text(Instant at) => at.ToDateTimeOffset().ToString("yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'", CultureInfo.InvariantCulture);

    private static Instant? TimeOf(ServiceEvent service, string name)
    {
        if (!service.Details.TryGetValue(name, out var text)
            || !DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal, out var time)
            || time.Year is < 1678 or > 2261)
            return null;
        return Instant.From(time);
    }
}
