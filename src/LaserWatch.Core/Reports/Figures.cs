using System.Globalization;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>Numbers, times and durations as the report prints them: rounded to what they are worth, always with their unit.</summary>
internal static class Figures
{
    /// <summary>What stands where nothing is known.</summary>
    public const string NotKnown = "not known";

    // Narrow and not broken: a line never ends between a number and its unit, or within a number.
    private const char Thin = '\u202f';
    private const string Space = "\u00a0";

    private static readonly NumberFormatInfo Grouped = new() { NumberGroupSeparator = Thin.ToString(), NegativeSign = "\u2212" };

    public static string Number(double value, int decimals)
    {
        var rounded = Math.Round(value, decimals, MidpointRounding.AwayFromZero) + 0.0;
        return (rounded == 0 ? 0 : rounded).ToString("N" + decimals, Grouped);
    }

    public static string Count(long value) => value.ToString("N0", Grouped);

    public static string WithUnit(double value, int decimals, string unit) => unit.Length == 0 ? Number(value, decimals) : Number(value, decimals) + Space + unit;

    /// <summary>A count of things with its noun: 1 day, 2 days.</summary>
    public static string Counted(long count, string one, string? many = null) => Count(count) + Space + (count == 1 ? one : many ?? one + "s");

    /// <summary>As many decimals as the unit is worth.</summary>
    public static string Value(double value, string unit) => WithUnit(value, unit is "%" or "%RH" ? 0 : unit == "mA" ? 2 : 1, unit);

    /// <summary>A part as per cent: more decimals near nothing and near all, where they matter; never rounded to 0 or 100 what is not.</summary>
    public static string Share(double part)
    {
        var percent = part * 100;
        if (percent is 0 or 100)
            return Number(percent, 0) + Space + "%";
        if (percent is > 0 and < 0.01)
            return "less than 0.01" + Space + "%";
        if (percent is > 99.99 and < 100)
            return "more than 99.99" + Space + "%";
        return Number(percent, percent is > 99 or < 1 ? 2 : 1) + Space + "%";
    }

    public static string Percent(double part, int decimals = 1) => Number(part * 100, decimals) + Space + "%";

    public static string Hours(double seconds)
    {
        var hours = seconds / 3600;
        return WithUnit(hours, hours >= 100 ? 0 : 1, "h");
    }

    /// <summary>The two largest units that say something: 42 s, 3 min 5 s, 2 h 40 min, 5 d 3 h.</summary>
    public static string Duration(double seconds)
    {
        if (seconds < 0.95)
            return seconds <= 0 ? "0" + Space + "s" : Number(Math.Max(0.1, seconds), 1) + Space + "s";
        var whole = (long)Math.Round(seconds);
        return whole switch
        {
            < 60 => $"{whole}{Space}s",
            < 3600 => Two(whole / 60, "min", whole % 60, "s"),
            < 86_400 => Two(whole / 3600, "h", whole % 3600 / 60, "min"),
            _ => Two(whole / 86_400, "d", whole % 86_400 / 3600, "h"),
        };
    }

    public static string Date(Instant at) => at.ToDateTimeOffset().ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    public static string Date(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    public static string Minute(Instant at) => at.ToDateTimeOffset().ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);

    private static string Two(long large, string unit, long small, string smaller) =>
        small == 0 ? $"{large}{Space}{unit}" : $"{large}{Space}{unit} {small}{Space}{smaller}";
}
