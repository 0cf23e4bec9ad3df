using LaserWatch.History;
using LaserWatch.Rehearsal;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>A past that was played through the rules of A and B.</summary>
/// <param name="Days">UTC days with a sample.</param>
/// <param name="Annotations">What people said of it.</param>
internal sealed record RehearsedPast(
    IReadOnlyList<RaisedAlarm> AlarmsA, IReadOnlyList<RaisedAlarm> AlarmsB, int Days, Instant? First, Instant? Last, long Samples,
    IReadOnlyList<Annotation> Annotations);
