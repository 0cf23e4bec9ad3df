using System.Runtime.CompilerServices;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Roll-ups of minutes and hours: worked out by the server, and from the samples themselves where some still wait in the spool.</summary>
internal sealed class RollUpReading(ServerReader server, SideReader side, SampleReading samples)
{
    /// <summary>Minutes or hours that are asked for in one request.</summary>
    private const long PageSpans = 5000;

    public async IAsyncEnumerable<RollUp> ReadAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, [EnumeratorCancellation] CancellationToken stop)
    {
        var minutes = span == RollUpSpan.Minute ? 1 : TimeGrid.MinutesPerHour;
        var (start, end) = (FirstFrom(from), FirstFrom(to)); // in minutes or hours since 1970, the end not included
        var field = InfluxQl.Name(channel.Name);
        var where = $"\"machine\" = {InfluxQl.Text(machine)} AND ";
        var page = new SortedDictionary<long, RollUpSum>();
        while (start < end)
        {
            // Nothing may lie within centuries: go to where something does.
            var (first, last) = (FirstOf(start), LastOf(end - 1));
            var spooledNext = side.NextInSpool(first);
            var storedNext = await server.NextAsync(field, EventLines.Telemetry, where, first, last, stop).ConfigureAwait(false);
            if (spooledNext is null && storedNext is null)
                yield break;
            start = Math.Max(start, SpanOf(Math.Min(spooledNext ?? long.MaxValue, storedNext ?? long.MaxValue)));
            if (start >= end)
                yield break;

            var pageEnd = Math.Min(end, start + PageSpans);
            page.Clear();
            await FillAsync(start, pageEnd).ConfigureAwait(false);
            foreach (var (at, sum) in page)
            {
                if (sum.Count > 0)
                    yield return new RollUp(TimeGrid.StartOfMinute(at * minutes), sum.Count, sum.Min, sum.Mean, sum.Max);
            }

            start = pageEnd;
        }

        async Task FillAsync(long pageStart, long pageEnd)
        {
            var (first, last) = (FirstOf(pageStart), LastOf(pageEnd - 1));
            var touched = Touched(machine, channel, first, last, SpanOf);
            var interval = span == RollUpSpan.Minute ? "1m" : "1h";
            var tables = await server.QueryAsync(
                $"SELECT count({field}), min({field}), mean({field}), max({field}) FROM {InfluxQl.Name(EventLines.Telemetry)} WHERE {where}{InfluxQl.Within(first, last)} GROUP BY time({interval}) fill(none)",
                stop).ConfigureAwait(false);
            foreach (var table in tables)
            {
                for (var row = 0; row < table.Rows; row++)
                {
                    var cells = table.Row(row);
                    page[SpanOf(table.Times[row])] = new RollUpSum((long)cells[0].Number, cells[1].Number, cells[2].Number, cells[3].Number);
                }
            }

            foreach (var (runStart, runEnd) in Runs(touched))
            {
                for (var at = runStart; at < runEnd; at++)
                    page.Remove(at);
                await foreach (var block in samples.ReadAsync(machine, [channel], FirstOf(runStart), LastOf(runEnd - 1), new ChannelTable(), stop).ConfigureAwait(false))
                {
                    for (var i = 0; i < block.Length; i++)
                    {
                        var at = SpanOf(block.Span[i].At.UnixNanoseconds);
                        page[at] = page.GetValueOrDefault(at).Add(block.Span[i].Value);
                    }
                }
            }
        }

        long SpanOf(long at) => span == RollUpSpan.Minute ? TimeGrid.MinuteOf(new Instant(at)) : TimeGrid.HourOf(TimeGrid.MinuteOf(new Instant(at)));

        long FirstOf(long at) => Math.Max(TimeGrid.StartOfMinute(at * minutes).UnixNanoseconds, InfluxQl.FirstTime);

        long LastOf(long at)
        {
            var next = TimeGrid.StartOfMinute((at + 1) * minutes).UnixNanoseconds;
            return Math.Min(next == long.MaxValue ? next : next - 1, InfluxQl.LastTime);
        }

        long FirstFrom(Instant at)
        {
            var last = SpanOf(at.UnixNanoseconds);
            return TimeGrid.StartOfMinute(last * minutes) == at ? last : last + 1;
        }
    }

    /// <summary>The minutes or hours of which a sample waits in the spool.</summary>
    private SortedSet<long> Touched(string machine, Channel channel, long first, long last, Func<long, long> spanOf)
    {
        var touched = new SortedSet<long>();
        foreach (var line in side.ReadSpool(EventLines.Telemetry, first, last))
        {
            if (line.Tag("machine") == machine && line.Field(channel.Name) is not null)
                touched.Add(spanOf(line.Time.UnixNanoseconds));
        }

        return touched;
    }

    /// <summary>Numbers that follow each other without a hole, as spans whose end is not included.</summary>
    public static IEnumerable<(long Start, long End)> Runs(SortedSet<long> numbers)
    {
        (long Start, long End)? run = null;
        foreach (var number in numbers)
        {
            if (run is { } open && open.End == number)
            {
                run = (open.Start, number + 1);
                continue;
            }

            if (run is { } closed)
                yield return closed;
            run = (number, number + 1);
        }

        if (run is { } last)
            yield return last;
    }
}
