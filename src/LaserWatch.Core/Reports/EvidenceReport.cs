using LaserWatch.History;
using LaserWatch.Life;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>All that the evidence report on one tube tells; how it is printed is <see cref="HtmlReport"/>'s.</summary>
/// <remarks>A record without a party: it holds what was measured and how, and names what is not known.</remarks>
public sealed record EvidenceReport
{
    public required string Machine { get; init; }

    /// <summary>Of the program that made it.</summary>
    public required string Version { get; init; }

    public required Instant MadeAt { get; init; }

    /// <summary>Begin of the time reported on; included.</summary>
    public required Instant From { get; init; }

    /// <summary>End of it; not included.</summary>
    public required Instant To { get; init; }

    public required Identity Identity { get; init; }

    public required TubeRating Rating { get; init; }

    /// <summary>At the end of the time reported on.</summary>
    public required TubeAge Age { get; init; }

    /// <summary>The tube by the log; null where not a block of its current was ever seen.</summary>
    public TubePeriod? Period { get; init; }

    /// <summary>The tube's health ratio by day; null where there is no estimate at all.</summary>
    public ChannelTrend? Current { get; init; }

    public required OperatingSummary Conditions { get; init; }

    public required AlarmHistory Alarms { get; init; }

    /// <summary>In time order, calibration entries included.</summary>
    public IReadOnlyList<ServiceEvent> Services { get; init; } = [];

    /// <summary>Time and samples that the store knows it lacks, in time order.</summary>
    public IReadOnlyList<KnownGap> Gaps { get; init; } = [];

    /// <summary>Samples that came twice with the same value, since the store was made.</summary>
    public long Duplicates { get; init; }

    /// <summary>Samples that came twice with different values, since the store was made.</summary>
    public long Conflicts { get; init; }

    /// <summary>How far the data were sealed; null where nothing was.</summary>
    public IntegrityFacts? Integrity { get; init; }

    /// <summary>What the configuration says of the sensors now; channels with none send canonical units on LaserWatch's own topics.</summary>
    public IReadOnlyList<SensorCalibration> Sensors { get; init; } = [];
}

/// <summary>What no sensor tells: who and what. Null is printed as not stated.</summary>
public sealed record Identity
{
    /// <summary>Name and place of the shop.</summary>
    public string? Shop { get; init; }

    /// <summary>Make and model of the machine.</summary>
    public string? MachineModel { get; init; }

    public string? TubeMaker { get; init; }

    public string? TubeModel { get; init; }

    public string? TubeSerial { get; init; }

    /// <summary>Make and model of the high-voltage supply.</summary>
    public string? Supply { get; init; }

    public DateOnly? Purchased { get; init; }

    public DateOnly? Installed { get; init; }

    /// <summary>The warranty desk's or the shop's own number of the claim.</summary>
    public string? Claim { get; init; }

    /// <summary>What the warranty asks for and excludes, in the shop's words.</summary>
    public string? Terms { get; init; }
}

/// <summary>What the tube is rated for.</summary>
/// <param name="HoursStated">False where no sheet was entered and the rule's default stands in.</param>
/// <param name="CurrentMilliamps">Null: not stated.</param>
public sealed record TubeRating(double Hours, bool HoursStated, double Months, bool MonthsStated, double? CurrentMilliamps);

/// <summary>Time we know we lack.</summary>
/// <param name="Lost">Samples known to be lost; 0 where only the time is known.</param>
public sealed record KnownGap(Instant From, Instant To, string Reason, long Lost);

/// <summary>How one sensor's messages become the values of its channels.</summary>
/// <param name="Channels">Those it feeds.</param>
/// <param name="Source">Where its messages come from.</param>
/// <param name="Chain">From what is sent to what is measured, in words with all numbers.</param>
public sealed record SensorCalibration(string Channels, string Source, string Chain);
