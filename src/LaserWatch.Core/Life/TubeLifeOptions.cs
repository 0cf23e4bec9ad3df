using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Life;

/// <summary>What the tube is rated for, and when its end is announced. Default ratings: common practice, no published source.</summary>
public sealed record TubeLifeOptions
{
    /// <summary>Beam-on hours the tube is rated for; its sheet goes before this. Default 8000. Lower: its end is announced sooner.</summary>
    [Range(1, 100_000)]
    public double RatedHours { get; init; } = 8000;

    /// <summary>Months the tube is rated for, since it ages on the shelf too. Default 36. Lower: its end is announced sooner.</summary>
    [Range(1, 240)]
    public double RatedMonths { get; init; } = 36;

    /// <summary>Announced from this part of the rated life on, at low priority; past it at medium. Default 0.9.</summary>
    [Range(0.5, 1)]
    public double WarnFrom { get; init; } = 0.9;

    /// <summary>Health ratio at which the tube counts as worn out, for the projection. Default 0.85. Higher: its end is foretold sooner.</summary>
    [Range(0.5, 0.98)]
    public double EndOfLifeRatio { get; init; } = 0.85;

    /// <summary>Told when the projected end is within so many days. Default 30. Longer warns sooner and less surely.</summary>
    [Range(1, 365)]
    public double LookAheadDays { get; init; } = 30;

    /// <summary>When the tube was put in; a later entry in the service log goes before it. Null: only the log counts. Default null.</summary>
    public Instant? Installed { get; init; }

    /// <summary>What the hour meter read when the tube was put in at <c>installed</c>, h; 0 for a meter that began with it. Null: not known. Default null.</summary>
    [Range(0, 1_000_000)]
    public double? MeterAtInstallHours { get; init; }
}
