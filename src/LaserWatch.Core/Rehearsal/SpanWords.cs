using System.Globalization;

namespace LaserWatch.Rehearsal;

/// <summary>A length of time in its two largest units, such as <c>2 d 4 h</c>, <c>5 min 12 s</c> or <c>3.2 s</c>. Without its sign.</summary>
public static class SpanWords
{
    public static string Of(TimeSpan span)
    {
        var length = span.Duration();
        if (length < TimeSpan.FromMinutes(1))
            return string.Create(CultureInfo.InvariantCulture, $"{length.TotalSeconds:0.#} s");
        return length.Days > 0 ? Two(length.Days, "d", length.Hours, "h")
            : length.Hours > 0 ? Two(length.Hours, "h", length.Minutes, "min")
            : Two(length.Minutes, "min", length.Seconds, "s");
    }

    /// <summary>Such as <c>2 d 4 h later</c>; <c>at the same time</c> where it did not move.</summary>
    public static string Moved(TimeSpan by) => by == TimeSpan.Zero ? "at the same time" : $"{Of(by)} {(by > TimeSpan.Zero ? "later" : "earlier")}";

    private static string Two(int large, string unit, int small, string smaller) =>
        string.Create(CultureInfo.InvariantCulture, $"{large} {unit}{(small == 0 ? "" : $" {small} {smaller}")}");
}
