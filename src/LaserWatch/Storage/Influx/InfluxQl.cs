using System.Globalization;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Pieces of InfluxQL statements, quoted.</summary>
/// <remarks>
/// Names stand in double quotes always: some that look harmless (<c>series</c>, <c>values</c>, <c>key</c>) are words of the language.
/// A backslash escapes the quote and itself; a line break is <c>\n</c>. After the language's published specification and the scanner of 1.6.
/// </remarks>
internal static class InfluxQl
{
    /// <summary>The earliest and the latest time that the server can hold: an <see cref="Instant"/> goes three nanoseconds further.</summary>
    public const long FirstTime = long.MinValue + 2;

    public const long LastTime = long.MaxValue - 1;

    public static string Name(string name) => Quoted(name, '"');

    public static string Text(string text) => Quoted(text, '\'');

    public static string Names(IEnumerable<string> names) => string.Join(", ", names.Select(Name));

    /// <summary>The condition that a time lies within the bounds, both included.</summary>
    public static string Within(long first, long last) => string.Create(CultureInfo.InvariantCulture, $"time >= {first} AND time <= {last}");

    /// <summary>The bounds of a store's call (<c>to</c> not included) as the server can hold them, both included; nothing lies within where first is after last.</summary>
    public static (long First, long Last) Bounds(Instant from, Instant to) =>
        (Math.Max(from.UnixNanoseconds, FirstTime), to.UnixNanoseconds <= FirstTime ? FirstTime - 1 : Math.Min(to.UnixNanoseconds - 1, LastTime));

    private static string Quoted(string text, char quote)
    {
        var quoted = new StringBuilder(text.Length + 2).Append(quote);
        foreach (var c in text)
        {
            if (c == '\n')
                quoted.Append("\\n");
            else if (c == quote || c == '\\')
                quoted.Append('\\').Append(c);
            else
                quoted.Append(c);
        }

        return quoted.Append(quote).ToString();
    }
}
