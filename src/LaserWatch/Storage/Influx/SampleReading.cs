using System.Runtime.CompilerServices;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Samples as the server and the spool hold them together, in time order and in bounded memory.</summary>
/// <remarks>
/// The spool is looked at first and the server then, span after span: what leaves the spool in between is at the server, and is met
/// twice at worst. Of two samples of one channel and time the one appended last stands, as at the server.
/// </remarks>
internal sealed class SampleReading(ServerReader server, SideReader side)
{
    private const long FirstSpan = 86_400L * 1_000_000_000;
    private const long ShortestSpan = TimeGrid.NanosecondsPerMinute;

    /// <summary>Lines of the spool that are held in memory at once, in bytes, where a span of a minute has not more.</summary>
    private const long MostSpoolBytes = 16 << 20;

    public async IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadAsync(
        string machine, IReadOnlyCollection<Channel>? channels, long first, long last, ChannelTable table, [EnumeratorCancellation] CancellationToken stop)
    {
        var wanted = channels is null or { Count: 0 } ? null : channels.Select(channel => channel.Name).ToHashSet(StringComparer.Ordinal);
        var names = new Names(table, side.ReadUnits(machine));
        var block = new List<Sample>();
        var span = FirstSpan;
        var where = $"\"machine\" = {InfluxQl.Text(machine)} AND ";
        while (first <= last)
        {
            var spooledNext = side.NextInSpool(first);
            var select = await SelectAsync(wanted, stop).ConfigureAwait(false);
            var storedNext = select.Length == 0 ? null : await server.NextAsync(select, EventLines.Telemetry, where, first, last, stop).ConfigureAwait(false);
            if (spooledNext is null && storedNext is null)
                yield break;
            first = Math.Max(first, Math.Min(spooledNext ?? long.MaxValue, storedNext ?? long.MaxValue));

            var busy = true;
            while (busy && first <= last)
            {
                var end = EndOf(first, last, ref span);
                var spooled = ReadSpool(machine, wanted, first, end, names);
                select = await SelectAsync(wanted, stop).ConfigureAwait(false); // a line that has left the spool may have brought a new field
                var page = select.Length == 0
                    ? new ServerPage(null, 0, end)
                    : await server.PageAsync(select, EventLines.Telemetry, where, first, end, stop).ConfigureAwait(false);
                Merge(block, spooled, page, names);
                busy = block.Count > 0;
                if (busy)
                    yield return block.ToArray();
                if (page.Covered == long.MaxValue || page.Covered >= last)
                    yield break;

                span = NextSpan(page.Covered - (Int128)first, page.Rows, span);
                first = page.Covered + 1;
            }
        }
    }

    /// <summary>The columns to select: the fields at the server that are channels; empty where there are none.</summary>
    private async Task<string> SelectAsync(HashSet<string>? wanted, CancellationToken stop)
    {
        var fields = await server.QueryAsync($"SHOW FIELD KEYS FROM {InfluxQl.Name(EventLines.Telemetry)}", stop).ConfigureAwait(false);
        var names = new List<string>();
        foreach (var table in fields)
        {
            for (var row = 0; row < table.Rows; row++)
            {
                if (table.Row(row)[0].Text is { } name && ChannelTable.IsValidName(name) && wanted?.Contains(name) != false)
                    names.Add(name);
            }
        }

        return InfluxQl.Names(names.Distinct(StringComparer.Ordinal));
    }

    private long EndOf(long first, long last, ref long span)
    {
        var end = (long)Int128.Min(last, (Int128)first + span);
        while (span > ShortestSpan && side.SpoolBytes(first, end) > MostSpoolBytes)
        {
            span = Math.Max(ShortestSpan, (end - first) / 2);
            end = (long)Int128.Min(last, (Int128)first + span);
        }

        return end;
    }

    /// <summary>The server works through all of the span that is asked for, so it shall hold a little less than a page.</summary>
    private static long NextSpan(Int128 covered, int rows, long span)
    {
        const int Wanted = ServerReader.PageRows * 7 / 8;
        var next = covered * Wanted / Math.Max(rows, Wanted / 4);
        return (long)Int128.Clamp(rows == 0 ? (Int128)span * 4 : next, ShortestSpan, long.MaxValue);
    }

    private SortedList<(long At, int Channel), Sample> ReadSpool(string machine, HashSet<string>? wanted, long first, long last, Names names)
    {
        var newest = new Dictionary<(long At, int Channel), Sample>();
        foreach (var line in side.ReadSpool(EventLines.Telemetry, first, last))
        {
            if (line.Tag("machine") != machine)
                continue;
            foreach (var field in line.Fields)
            {
                if (wanted?.Contains(field.Key) == false)
                    continue;
                var channel = names.Find(field.Key);
                newest[(line.Time.UnixNanoseconds, channel.Index)] = new Sample(channel, line.Time, field.Number);
            }
        }

        return new SortedList<(long, int), Sample>(newest);
    }

    private static void Merge(List<Sample> block, SortedList<(long At, int Channel), Sample> spooled, ServerPage page, Names names)
    {
        block.Clear();
        var waiting = spooled.Values;
        var next = 0;
        if (page.Table is { } table)
        {
            var columns = new List<(int Place, Channel Channel)>();
            for (var place = 0; place < table.Columns.Count; place++)
                columns.Add((place, names.Find(table.Columns[place])));
            columns.Sort((a, b) => a.Channel.Index.CompareTo(b.Channel.Index));
            for (var row = 0; row < page.Rows; row++)
            {
                var cells = table.Row(row);
                foreach (var (place, channel) in columns)
                {
                    // Stores that know truth values may give the beam as one.
                    if (cells[place].Kind is not (CellKind.Number or CellKind.Truth))
                        continue;
                    var sample = new Sample(channel, new Instant(table.Times[row]), cells[place].Number);
                    while (next < waiting.Count && Compare(waiting[next], sample) < 0)
                        block.Add(waiting[next++]);
                    if (next < waiting.Count && Compare(waiting[next], sample) == 0)
                        sample = waiting[next++];
                    block.Add(sample);
                }
            }
        }

        while (next < waiting.Count && waiting[next].At.UnixNanoseconds <= page.Covered)
            block.Add(waiting[next++]);

        static int Compare(Sample a, Sample b) => a.At == b.At ? a.Channel.Index.CompareTo(b.Channel.Index) : a.At.CompareTo(b.At);
    }

    /// <summary>Channels of the reader's table, with the units that the side file knows.</summary>
    internal sealed class Names(ChannelTable table, Dictionary<string, string> units)
    {
        public Channel Find(string name) =>
            table.TryGet(name, units.GetValueOrDefault(name, ""), out var channel)
                ? channel
                : throw new StoreException($"The store holds more channels than a process takes ({ChannelTable.MostOthers}), or '{name}', which is none; name the channels to read.");
    }
}
