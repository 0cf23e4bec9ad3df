using System.Globalization;

namespace LaserWatch.Pipeline;

/// <summary>A length of time as one reads it: <c>2.5 s</c>, <c>1:00:00</c>, <c>1 d 00:00:00</c>. Without its sign.</summary>
internal static class DurationWords
{
    public static string Of(TimeSpan span)
    {
        var length = span.Duration();
        if (length < TimeSpan.FromMinutes(2))
            return string.Create(CultureInfo.InvariantCulture, $"{length.TotalSeconds:0.###} s");
        return length.Days == 0
            ? length.ToString(@"h\:mm\:ss", CultureInfo.InvariantCulture)
            : length.ToString(@"d' d 'hh\:mm\:ss", CultureInfo.InvariantCulture);
    }
}
