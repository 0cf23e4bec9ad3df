using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>One tube of the machine, for as long as it was in.</summary>
/// <param name="Number">1 for the first tube that the store knows, then one more at each replacement.</param>
/// <param name="Serial">As logged when it was put in; null: nobody said.</param>
/// <param name="Installed">When it was put in, by the log; null for a tube that was in before the log began.</param>
/// <param name="Removed">When the next one was put in; null for the tube that is in now.</param>
/// <param name="BeamHours">Beam-on hours seen in the stored samples of the time it was in.</param>
public sealed record TubePeriod(int Number, string? Serial, Instant? Installed, Instant? Removed, double BeamHours)
{
    /// <summary>Such as <c>tube 2, T-000002, in since 2026-03-09</c>.</summary>
    public string Words
    {
        get
        {
            var serial = Serial is null ? "" : $", {Serial}";
            var since = Installed is { } began ? $", in since {began.ToString()[..10]}" : "";
            var until = Removed is { } ended ? $", out {ended.ToString()[..10]}" : "";
            return $"tube {Number}{serial}{since}{until}";
        }
    }
}
