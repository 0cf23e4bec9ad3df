using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Configuration;

/// <summary>A laser tube: what stands on it, on its sheet and in its warranty.</summary>
public sealed record TubeOptions
{
    /// <summary>Serial number as printed on the tube; null: not written down.</summary>
    [StringLength(100, MinimumLength = 1)]
    public string? Serial { get; init; }

    /// <summary>The day it was put in; null: only the service log tells its age.</summary>
    [DayRange("1990-01-01", "2200-01-01")]
    public DateOnly? Installed { get; init; }

    /// <summary>What the machine's hour meter read when it was put in, h; 0: the meter began with it. Null: not known.</summary>
    [Range(0.0, 1_000_000.0)]
    public double? MeterAtInstallHours { get; init; }

    /// <summary>Beam-on hours it is rated for; null: those of <c>rules.tubeLife</c>. Lower: its end is announced sooner.</summary>
    [Range(1.0, 100_000.0)]
    public double? RatedHours { get; init; }

    /// <summary>Months it is rated for, since a tube ages on the shelf too; null: those of <c>rules.tubeLife</c>.</summary>
    [Range(1.0, 240.0)]
    public double? RatedMonths { get; init; }

    /// <summary>Rated working current, mA, from the tube's sheet; null: not known, and too much current is not judged. Higher than the sheet says: the tube wears unannounced.</summary>
    [Range(0.5, 200.0)]
    public double? RatedCurrentMilliamps { get; init; }

    /// <summary>Who made the tube, for the evidence report; null: not stated there.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Maker { get; init; }

    /// <summary>The tube's model or type, for the evidence report; null: not stated there.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Model { get; init; }

    /// <summary>Make and model of the high-voltage supply that runs it, for the evidence report; null: not stated there.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Supply { get; init; }

    /// <summary>The day it was bought, where a warranty counts from then, for the evidence report; null: not stated there.</summary>
    [DayRange("1990-01-01", "2200-01-01")]
    public DateOnly? Purchased { get; init; }

    /// <summary>Number of the claim, the warranty desk's or your own, for the evidence report; null: not stated there.</summary>
    [StringLength(100, MinimumLength = 1)]
    public string? Claim { get; init; }

    /// <summary>What the warranty asks for and excludes, in your words, for the evidence report; null: none.</summary>
    [StringLength(4000)]
    public string? Terms { get; init; }
}
