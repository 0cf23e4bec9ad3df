using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>First and last sample of a machine, and how many it has: counted by the server, and sample by sample where some wait in the spool.</summary>
internal sealed class ExtentReading(ServerReader server, SideReader side, SampleReading samples)
{
    /// <summary>The server counts so much time in one request, so that each stays short.</summary>
    private const long CountedAtOnce = 31L * 86_400 * 1_000_000_000;

    public async Task<SampleExtent?> ReadAsync(string machine, CancellationToken stop)
    {
        var minutes = new SortedSet<long>();
        foreach (var line in side.ReadSpool(EventLines.Telemetry, InfluxQl.FirstTime, InfluxQl.LastTime))
        {
            if (line.Tag("machine") == machine)
                minutes.Add(TimeGrid.MinuteOf(line.Time));
        }

        var sum = default(Sum);
        var next = InfluxQl.FirstTime;
        foreach (var (start, end) in RollUpReading.Runs(minutes))
        {
            var (first, last) = (
                Math.Max(TimeGrid.StartOfMinute(start).UnixNanoseconds, InfluxQl.FirstTime),
                Math.Min(TimeGrid.StartOfMinute(end).UnixNanoseconds - 1, InfluxQl.LastTime));
            if (TimeGrid.StartOfMinute(end) == Instant.MaxValue)
                last = InfluxQl.LastTime;
            sum = sum.Add(await CountAtServerAsync(machine, next, first - 1, stop).ConfigureAwait(false));
            await foreach (var block in samples.ReadAsync(machine, null, first, last, new ChannelTable(), stop).ConfigureAwait(false))
                sum = sum.Add(new Sum(block.Span[0].At.UnixNanoseconds, block.Span[^1].At.UnixNanoseconds, block.Length));
            next = last == InfluxQl.LastTime ? long.MaxValue : last + 1;
        }

        sum = sum.Add(await CountAtServerAsync(machine, next, InfluxQl.LastTime, stop).ConfigureAwait(false));
        return sum.Count == 0 ? null : new SampleExtent(new Instant(sum.First), new Instant(sum.Last), sum.Count);
    }

    private async Task<Sum> CountAtServerAsync(string machine, long first, long last, CancellationToken stop)
    {
        var where = $"\"machine\" = {InfluxQl.Text(machine)} AND ";
        var sum = default(Sum);
        while (await server.NextAsync("*", EventLines.Telemetry, where, first, last, stop).ConfigureAwait(false) is { } begin)
        {
            var end = (long)Int128.Min(last, (Int128)begin + CountedAtOnce);
            var count = 0L;
            foreach (var table in await server.QueryAsync(
                $"SELECT count(*) FROM {InfluxQl.Name(EventLines.Telemetry)} WHERE {where}{InfluxQl.Within(begin, end)}", stop).ConfigureAwait(false))
            {
                foreach (var cell in table.Cells)
                    count += (long)cell.Number;
            }

            var newest = await server.QueryAsync(
                $"SELECT * FROM {InfluxQl.Name(EventLines.Telemetry)} WHERE {where}{InfluxQl.Within(begin, end)} ORDER BY time DESC LIMIT 1", stop).ConfigureAwait(false);
            sum = sum.Add(new Sum(begin, newest.Count == 0 ? begin : newest[0].Times[0], count));
            if (end >= last)
                break;
            first = end + 1;
        }

        return sum;
    }

    private readonly record struct Sum(long First, long Last, long Count)
    {
        public Sum Add(Sum other) =>
            Count == 0 ? other
            : other.Count == 0 ? this
            : new(Math.Min(First, other.First), Math.Max(Last, other.Last), Count + other.Count);
    }
}
