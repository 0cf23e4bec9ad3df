using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Something that was done to the machine, as it is marked in a trend.</summary>
/// <param name="Part">As logged, such as <c>tube</c> or <c>coolant</c>.</param>
/// <param name="Action">As logged, such as <c>replaced</c>.</param>
public sealed record ServiceMark(Instant At, string Part, string Action, string? Serial, string? Note)
{
    /// <summary>Short, for the edge of a picture: <c>tube replaced (T-000002)</c>.</summary>
    public string Label => Serial is null ? $"{Part} {Action}" : $"{Part} {Action} ({Serial})";

    public static ServiceMark Of(ServiceEvent service) => new(service.At, service.Part, service.Action, service.Serial, service.Note);
}
