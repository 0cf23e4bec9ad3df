using System.Globalization;
using LaserWatch.Exports;
using LaserWatch.History;

namespace LaserWatch.Cli;

/// <summary>A trend's days as CSV (RFC 4180) that opens in a spreadsheet: a header with units, dates as 2026-03-09, a point in numbers; all days, none condensed.</summary>
/// <remarks>
/// Columns: machine, channel, tube (number; empty for other channels), serial, power_percent (empty: pooled), day, time_utc (middle of the day's estimate), the value
/// (<c>health_ratio</c>, or channel and unit), standard_error (same unit), count (blocks or minutes), tube_current_mA (at one power only), line, line_low and line_high (the robust line
/// and its interval of <c>confidence</c>; empty before the line begins), confidence.
/// </remarks>
internal static class TrendCsv
{
    public static void Print(IReadOnlyList<ChannelTrend> trends, TextWriter output)
    {
        var value = trends[0].IsHealthRatio ? "health_ratio" : ColumnName.Of(trends[0].Channel);
        Row(output, ["machine", "channel", "tube", "serial", "power_percent", "day", "time_utc", value, "standard_error", "count", "tube_current_mA", "line", "line_low", "line_high", "confidence"]);
        foreach (var trend in trends)
        {
            var milliamps = trend.Milliamps?.ToDictionary(day => day.Day, day => day.Value);
            for (var i = 0; i < trend.Days.Count; i++)
            {
                var day = trend.Days[i];
                var line = trend.Line is not null && i >= trend.LineFrom ? trend.LineAt(ChannelTrend.ToDays(day.At)) : default((double Value, double Low, double High)?);
                Row(output,
                [
                    trend.Machine, trend.Channel.Name, Number(trend.Tube?.Number), trend.Tube?.Serial ?? "", Number(trend.Power), day.Day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
                    day.At.ToDateTimeOffset().ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture), Number(day.Value), Number(day.Error), Number(day.Count),
                    milliamps is not null && milliamps.TryGetValue(day.Day, out var current) ? Number(current) : "",
                    Number(line?.Value), Number(line?.Low), Number(line?.High), Number(trend.Confidence),
                ]);
            }
        }
    }

    private static string Number(double? value) => value is { } number ? number.ToString("R", CultureInfo.InvariantCulture) : "";

    private static void Row(TextWriter output, IEnumerable<string> cells)
    {
        output.Write(string.Join(',', cells.Select(CsvExport.Cell)));
        output.Write("\r\n");
    }
}
