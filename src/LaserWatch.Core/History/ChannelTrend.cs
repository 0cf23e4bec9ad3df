using LaserWatch.Telemetry;
using LaserWatch.Trends;

namespace LaserWatch.History;

/// <summary>How a channel, or a tube's health, has gone from day to day: all that table, chart, picture and report tell.</summary>
/// <remarks>
/// Times of <see cref="Line"/> and <see cref="Change"/> are days since 1970 (<see cref="ToDays"/>); all values are in <see cref="Unit"/>. Nothing here is
/// rounded.
/// </remarks>
public sealed record ChannelTrend
{
    /// <summary>Of a month, in days: a twelfth of 365.25.</summary>
    public const double DaysPerMonth = 30.4375;

    public required string Machine { get; init; }

    public required Channel Channel { get; init; }

    /// <summary>What the values are, in words, such as <c>tube current against its baseline, over all powers</c>.</summary>
    public required string What { get; init; }

    /// <summary>Empty for a ratio, and where nobody told the channel's unit.</summary>
    public required string Unit { get; init; }

    /// <summary>The values are measured current / baseline.</summary>
    public bool IsHealthRatio { get; init; }

    /// <summary>The only commanded power that was taken, %; null: all.</summary>
    public double? Power { get; init; }

    /// <summary>The powers that stand lowest and highest lately, where they differ by more than chance; null else, and where one power was taken.</summary>
    public PowersApart? Apart { get; init; }

    /// <summary>What the current was at <see cref="Power"/> when the tube was new or the watch began, mA; null without a power or before it is known.</summary>
    public double? BaselineMilliamps { get; init; }

    /// <summary>The tube whose health it is; null for other channels.</summary>
    public TubePeriod? Tube { get; init; }

    /// <summary>Raw estimates, one a day, in time order. May be empty.</summary>
    public required IReadOnlyList<DailyEstimate> Days { get; init; }

    /// <summary>The same days in mA, uncorrected; null unless one <see cref="Power"/> was taken.</summary>
    public IReadOnlyList<DailyEstimate>? Milliamps { get; init; }

    /// <summary>Of every interval here.</summary>
    public required double Confidence { get; init; }

    /// <summary>Why there is no line, in words; null where there is one.</summary>
    public string? Refusal { get; init; }

    /// <summary>The line is fitted to the days from this one on: the last step, where one was found. Index into <see cref="Days"/>.</summary>
    public int LineFrom { get; init; }

    /// <summary>The robust line, its slope by the day, with Sen's interval widened for autocorrelation; null: see <see cref="Refusal"/>.</summary>
    public TheilSen? Line { get; init; }

    /// <summary>The rank test on the same days.</summary>
    public MannKendall? Test { get; init; }

    /// <summary>Half the width of the interval of the line's level at <see cref="CentreDay"/>, where its slope turns.</summary>
    public double LevelReach { get; init; }

    /// <summary>The median of the days that the line was fitted to.</summary>
    public double CentreDay { get; init; }

    /// <summary>The trend is no chance: two-sided p at or below <see cref="Life.LifeProjection.Significance"/>, and zero outside the interval of the slope.</summary>
    public bool IsSure { get; init; }

    /// <summary>Step, ramp or none, for a tube's health; null for other channels, and where there are too few days.</summary>
    public ChangeFinding? Change { get; init; }

    public IReadOnlyList<TrendThreshold> Thresholds { get; init; } = [];

    public required TrendProjection Projection { get; init; }

    /// <summary>What was done to the machine in that time, in time order.</summary>
    public IReadOnlyList<ServiceMark> Services { get; init; } = [];

    /// <summary>Time without any estimate, a week or more, and time that the store knows it lacks, in time order.</summary>
    public IReadOnlyList<TrendGap> Gaps { get; init; } = [];

    /// <summary>What a reader must mind before trusting it, a sentence each.</summary>
    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>How the figures came about, in plain words, a sentence each.</summary>
    public required IReadOnlyList<string> Method { get; init; }

    /// <summary>Change a month of <see cref="DaysPerMonth"/> days, with its interval; null without a line.</summary>
    public (double Value, double Low, double High)? PerMonth =>
        Line is { } line ? (line.Slope * DaysPerMonth, line.Low * DaysPerMonth, line.High * DaysPerMonth) : null;

    /// <summary>The line at the last day, with the interval of the line (not of single days); null without a line.</summary>
    public (double Value, double Low, double High)? Now => Line is null ? null : LineAt(ToDays(Days[^1].At));

    public static double ToDays(Instant at) => at.UnixNanoseconds / 86_400e9;

    /// <summary>Stops at the last instant there is.</summary>
    public static Instant FromDays(double days) => days >= 106_751 ? Instant.MaxValue : new((long)(days * 86_400e9));

    /// <summary>The line with its interval: level and slope are both uncertain, and independent where the slope turns.</summary>
    /// <param name="day">Days since 1970.</param>
    /// <exception cref="InvalidOperationException">There is no line.</exception>
    public (double Value, double Low, double High) LineAt(double day)
    {
        var line = Line ?? throw new InvalidOperationException(Refusal);
        var (value, away) = (line.At(day), day - CentreDay);
        var ends = (A: (line.Low - line.Slope) * away, B: (line.High - line.Slope) * away);
        return (value,
            value - Math.Sqrt((LevelReach * LevelReach) + Square(Math.Min(ends.A, ends.B))),
            value + Math.Sqrt((LevelReach * LevelReach) + Square(Math.Max(ends.A, ends.B))));
    }

    private static double Square(double x) => x * x;
}
