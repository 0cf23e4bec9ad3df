using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>How a machine was run, from its stored samples. All times are the samples' own.</summary>
/// <param name="First">Time of the first sample; null where there was none.</param>
/// <param name="Heard">What each channel told, by its place in the table.</param>
/// <param name="Limits">Each limit, judged or not, in a fixed order.</param>
/// <param name="AllLimits">Beam-on time in which at least one limit was judged; outside where any was not kept. Its value is how many were not.</param>
/// <param name="HeardSeconds">Time in which anything was known of the machine.</param>
/// <param name="RunSeconds">Time within runs, announced or worked out.</param>
/// <param name="BeamInRunSeconds">Of the beam-on time, that within runs.</param>
/// <param name="PowerBands">Beam-on seconds at 0 to 10 % of power, 10 to 20 % … 90 to 100 %.</param>
/// <param name="BeamOfUnknownPowerSeconds">Beam-on time of which no power is known.</param>
/// <param name="Ranges">By channel: its days with the beam on.</param>
/// <param name="MeterHours">Hours that the machine's own meter moved on by; null where it was not read twice.</param>
public sealed record OperatingSummary(
    Instant? First, Instant? Last, long Samples, IReadOnlyList<ChannelHeard> Heard, IReadOnlyList<LimitUse> Limits, LimitTime AllLimits,
    double HeardSeconds, double BeamSeconds, double RunSeconds, double BeamInRunSeconds, IReadOnlyList<double> PowerBands,
    double BeamOfUnknownPowerSeconds, IReadOnlyList<DayUse> Days, IReadOnlyDictionary<Channel, IReadOnlyList<DayRange>> Ranges,
    IReadOnlyList<Silence> Silences, double? MeterFirst, double? MeterLast, double? MeterHours)
{
    /// <summary>Days with at least a minute of beam.</summary>
    public int DaysOfUse => Days.Count(day => day.BeamSeconds >= 60);

    /// <summary>Beam-on time within runs over the time of runs; null where no run was known.</summary>
    public double? Duty => RunSeconds > 0 ? BeamInRunSeconds / RunSeconds : null;

    /// <summary>Beam hours seen, of those that the machine's meter counted; null without a meter that moved by an hour at least. At most 1.</summary>
    public double? Cover => MeterHours is >= 1 and var metered ? Math.Min(1, BeamSeconds / 3600 / metered) : null;
}

/// <summary>What one channel told.</summary>
/// <param name="UsualSeconds">Median seconds from one sample to the next, lately; 0 where there was but one.</param>
/// <param name="Implausible">Samples outside the plausible range of the channel: taken as telling nothing.</param>
public readonly record struct ChannelHeard(Channel Channel, long Samples, double UsualSeconds, long Implausible);

/// <summary>How one limit was kept.</summary>
/// <param name="Key">Short and unique, such as <c>coolant-hot</c>.</param>
/// <param name="Limit">The limit in words and unit.</param>
/// <param name="Lack">Why it could not be judged at all; null where it was.</param>
/// <param name="Always">Whenever it was known; all zero where the limit counts with the beam on alone.</param>
/// <param name="InBeam">With the beam on.</param>
public sealed record LimitUse(string Key, string Name, string Unit, string Limit, string? Lack, bool OnlyInBeam, LimitTime Always, LimitTime InBeam)
{
    /// <summary>The wider of the two that is judged.</summary>
    public LimitTime Widest => OnlyInBeam ? InBeam : Always;
}
