using System.Buffers;
using System.Globalization;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>Tables as CSV (RFC 4180) that opens in a spreadsheet: commas, a point in numbers, times in UTC as <c>2026-03-09 08:00:00.250</c>.</summary>
/// <remarks>A time has more than three decimals only where it needs them, so that nothing is lost; spreadsheets show milliseconds.</remarks>
internal static class CsvExport
{
    /// <summary>What the usual spreadsheets take, the header counted (common practice, no source).</summary>
    public const long SpreadsheetRows = 1_048_576;

    private static readonly SearchValues<char> Quoted = SearchValues.Create(",\"\r\n");

    /// <returns>The number of rows without the header.</returns>
    public static async Task<long> WriteAsync(SampleTable table, Stream to, CancellationToken stop)
    {
        var output = new StreamWriter(to, new UTF8Encoding(false), 1 << 16, leaveOpen: true) { NewLine = "\r\n" };
        await using var closing = output.ConfigureAwait(false);
        var line = new StringBuilder("time_utc,job");
        foreach (var channel in table.Channels)
            line.Append(',').Append(Cell(ColumnName.Of(channel)));
        await output.WriteLineAsync(line, stop).ConfigureAwait(false);

        var count = 0L;
        await foreach (var rows in table.ReadAsync(stop).ConfigureAwait(false))
        {
            for (var i = 0; i < rows.Count; i++)
            {
                line.Clear();
                AppendTime(line, new Instant(rows.Times.Span[i]));
                line.Append(',').Append(Cell(rows.Jobs[i]));
                for (var place = 0; place < table.Channels.Count; place++)
                    line.Append(',').Append(CultureInfo.InvariantCulture, $"{rows.Values(place).Span[i]}");
                await output.WriteLineAsync(line, stop).ConfigureAwait(false);
            }

            count += rows.Count;
        }

        return count;
    }

    public static async Task WriteAsync(IReadOnlyList<EventRow> events, Stream to, CancellationToken stop)
    {
        var output = new StreamWriter(to, new UTF8Encoding(false), 1 << 16, leaveOpen: true) { NewLine = "\r\n" };
        await using var closing = output.ConfigureAwait(false);
        var line = new StringBuilder("time_utc,kind,subject,action,priority,value,limit,unit,job,by,serial,text,details");
        await output.WriteLineAsync(line, stop).ConfigureAwait(false);
        foreach (var row in events)
        {
            line.Clear();
            AppendTime(line, row.At);
            line.Append(',').Append(row.Kind).Append(',').Append(Cell(row.Subject)).Append(',').Append(Cell(row.Action)).Append(',').Append(row.Priority)
                .Append(CultureInfo.InvariantCulture, $",{row.Value},{row.Limit},").Append(Cell(row.Unit)).Append(',').Append(Cell(row.Job)).Append(',')
                .Append(Cell(row.By)).Append(',').Append(Cell(row.Serial)).Append(',').Append(Cell(row.Text)).Append(',').Append(Cell(row.Details));
            await output.WriteLineAsync(line, stop).ConfigureAwait(false);
        }
    }

    private static void AppendTime(StringBuilder line, Instant at)
    {
        line.Append(CultureInfo.InvariantCulture, $"{at.ToDateTimeOffset():yyyy-MM-dd HH:mm:ss.fff}");
        var belowMilliseconds = (int)(((at.UnixNanoseconds % 1_000_000) + 1_000_000) % 1_000_000);
        if (belowMilliseconds != 0)
            line.Append(CultureInfo.InvariantCulture, $"{belowMilliseconds:000000}");
    }

    internal static string? Cell(string? text) =>
        text is not null && text.AsSpan().ContainsAny(Quoted) ? $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"" : text;
}
