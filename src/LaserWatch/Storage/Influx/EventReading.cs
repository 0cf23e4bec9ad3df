using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Storage.Influx;

/// <summary>Job records, runs, service events and alarms as the server and the spool hold them together.</summary>
/// <remarks>A point comes back as the line that was written, so that the reading of recordings reads it too.</remarks>
internal sealed class EventReading(ServerReader server, SideReader side, ILogger logger)
{
    public delegate bool LineReader<T>(ParsedLine line, out T? item, out string? mistake);

    private static readonly HashSet<string> TagsOfAlarm = ["machine", "condition"];
    private static readonly HashSet<string> TagsOfJobRecord = ["job"];
    private static readonly HashSet<string> TagsOfOthers = ["machine"];

    /// <summary>In time order. Events of one time come in the order of appending where they are of one series, else by its name.</summary>
    /// <param name="machine">Null: of all.</param>
    /// <param name="read">Makes the item of its line.</param>
    /// <param name="timeOf">The time of an item, which may be earlier than that of its point.</param>
    /// <param name="withTime">The item at another time.</param>
    public async Task<IReadOnlyList<T>> ReadAsync<T>(
        string measurement, string? machine, Instant from, Instant to, LineReader<T> read, Func<T, Instant> timeOf, Func<T, Instant, T> withTime, CancellationToken stop)
        where T : class
    {
        var moves = side.ReadMoves(measurement);
        var longest = moves.Count == 0 ? 0 : moves.Values.Max();
        var (first, last) = InfluxQl.Bounds(from, to);
        last = last > InfluxQl.LastTime - longest ? InfluxQl.LastTime : last + longest;

        // The spool first: what leaves it meanwhile is then met at the server.
        var found = new SortedDictionary<(long At, string Series), T>(OfTime);
        var spooled = new List<((long At, string Series) Key, T Item)>();
        foreach (var line in side.ReadSpool(measurement, first, last))
        {
            if (machine is null || line.Tag("machine") == machine)
                Take(line, (key, item) => spooled.Add((key, item)));
        }

        var tags = TagsOf(measurement);
        var where = machine is null ? "" : $"\"machine\" = {InfluxQl.Text(machine)} AND ";
        var parsed = new ParsedLine();
        for (var at = first; at <= last;)
        {
            var page = await server.PageAsync("*", measurement, where, at, last, stop).ConfigureAwait(false);
            for (var row = 0; row < page.Rows; row++)
            {
                Fill(parsed, measurement, tags, page.Table!, row);
                Take(parsed, (key, item) => found[key] = item);
            }

            if (page.Covered >= last)
                break;
            at = page.Covered + 1;
        }

        foreach (var (key, item) in spooled)
            found[key] = item;
        return [.. found.Values.Where(item => timeOf(item) >= from && timeOf(item) < to).OrderBy(timeOf)];

        void Take(ParsedLine line, Action<(long, string), T> keep)
        {
            if (!read(line, out var item, out var mistake))
            {
                logger.InfluxRowUnreadable(measurement, line.Time.ToString(), mistake ?? "says nothing");
                return;
            }

            var key = (line.Time.UnixNanoseconds, SeriesOf(line));
            keep(key, moves.TryGetValue((key.Item2, key.Item1), out var moved) ? withTime(item!, new Instant(key.Item1 - moved)) : item!);
        }
    }

    private static string SeriesOf(ParsedLine line) => line.Measurement switch
    {
        EventLines.JobRecordName => line.Tag("job") ?? "",
        _ => SpooledLines.SeriesOf(line.Measurement, line.Tag("machine") ?? "", line.Tag("condition")),
    };

    private static HashSet<string> TagsOf(string measurement) => measurement switch
    {
        EventLines.AlarmName => TagsOfAlarm,
        EventLines.JobRecordName => TagsOfJobRecord,
        _ => TagsOfOthers,
    };

    private static void Fill(ParsedLine into, string measurement, HashSet<string> tags, AnswerTable table, int row)
    {
        into.Clear();
        into.Measurement = measurement;
        into.Time = new Instant(table.Times[row]);
        var cells = table.Row(row);
        for (var place = 0; place < table.Columns.Count; place++)
        {
            var name = table.Columns[place];
            var cell = cells[place];
            if (cell.Kind == CellKind.Nothing)
                continue;
            if (tags.Contains(name) && cell.Text is { } tag)
                into.Tags.Add((name, tag));
            else
                into.Fields.Add(Field(name, cell));
        }
    }

    private static LineField Field(string name, Cell cell) => cell.Kind switch
    {
        CellKind.Text => new(name, FieldKind.Text, 0, cell.Text!),
        CellKind.Truth => new(name, FieldKind.Truth, cell.Number, cell.Number == 1 ? "true" : "false"),
        _ => new(name, FieldKind.Number, cell.Number, cell.Number.ToString(System.Globalization.CultureInfo.InvariantCulture)),
    };

    private static readonly Comparer<(long At, string Series)> OfTime = Comparer<(long At, string Series)>.Create(
        (a, b) => a.At != b.At ? a.At.CompareTo(b.At) : string.CompareOrdinal(a.Series, b.Series));
}
