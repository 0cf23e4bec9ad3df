using LaserWatch.Telemetry;
using Parquet;
using Parquet.Schema;

namespace LaserWatch.Exports;

/// <summary>Tables as Apache Parquet, for analysis elsewhere.</summary>
/// <remarks><c>time</c> is a UTC timestamp in microseconds, which every reader understands; <c>time_ns</c> is the exact time in nanoseconds since 1970.</remarks>
internal static class ParquetExport
{
    private static readonly ParquetOptions Packed = new() { CompressionMethod = CompressionMethod.Snappy };

    /// <returns>The number of rows.</returns>
    public static async Task<long> WriteAsync(SampleTable table, string machine, Stream to, CancellationToken stop)
    {
        var (time, exact, job) = (Time(), new DataField<long>("time_ns"), Text("job"));
        var columns = table.Channels.Select(channel => new DataField<double?>(ColumnName.Of(channel))).ToList();
        var writer = await ParquetWriter.CreateAsync(new ParquetSchema([time, exact, job, .. columns]), to, Packed, cancellationToken: stop).ConfigureAwait(false);
        await using var closing = writer.ConfigureAwait(false);
        writer.CustomMetadata = new Dictionary<string, string> { ["machine"] = machine };

        var count = 0L;
        await foreach (var rows in table.ReadAsync(stop).ConfigureAwait(false))
        {
            using var group = writer.CreateRowGroup();
            await group.WriteAsync<DateTime>(time, Times(rows.Times.Span), cancellationToken: stop).ConfigureAwait(false);
            await group.WriteAsync(exact, rows.Times, cancellationToken: stop).ConfigureAwait(false);
            await group.WriteAsync(job, rows.Jobs.ToArray()!).ConfigureAwait(false);
            for (var place = 0; place < columns.Count; place++)
                await group.WriteAsync(columns[place], rows.Values(place), cancellationToken: stop).ConfigureAwait(false);
            count += rows.Count;
        }

        return count;
    }

    public static async Task WriteAsync(IReadOnlyList<EventRow> events, string machine, Stream to, CancellationToken stop)
    {
        var (time, exact, value, limit) = (Time(), new DataField<long>("time_ns"), new DataField<double?>("value"), new DataField<double?>("limit"));
        (DataField<string> Field, Func<EventRow, string?> Of)[] texts =
        [
            (Text("kind"), row => row.Kind), (Text("subject"), row => row.Subject), (Text("action"), row => row.Action), (Text("priority"), row => row.Priority),
            (Text("unit"), row => row.Unit), (Text("job"), row => row.Job), (Text("by"), row => row.By), (Text("serial"), row => row.Serial),
            (Text("text"), row => row.Text), (Text("details"), row => row.Details),
        ];
        var schema = new ParquetSchema([time, exact, .. texts.Select(text => text.Field), value, limit]);
        var writer = await ParquetWriter.CreateAsync(schema, to, Packed, cancellationToken: stop).ConfigureAwait(false);
        await using var closing = writer.ConfigureAwait(false);
        writer.CustomMetadata = new Dictionary<string, string> { ["machine"] = machine };
        if (events.Count == 0)
            return;

        using var group = writer.CreateRowGroup();
        long[] times = [.. events.Select(row => row.At.UnixNanoseconds)];
        await group.WriteAsync<DateTime>(time, Times(times), cancellationToken: stop).ConfigureAwait(false);
        await group.WriteAsync<long>(exact, times, cancellationToken: stop).ConfigureAwait(false);
        foreach (var (field, of) in texts)
            await group.WriteAsync(field, events.Select(of).ToArray()!).ConfigureAwait(false);
        await group.WriteAsync<double>(value, events.Select(row => row.Value).ToArray(), cancellationToken: stop).ConfigureAwait(false);
        await group.WriteAsync<double>(limit, events.Select(row => row.Limit).ToArray(), cancellationToken: stop).ConfigureAwait(false);
    }

    private static DateTimeDataField Time() => new("time", DateTimeFormat.Timestamp, isAdjustedToUTC: true, unit: DateTimeTimeUnit.Micros);

    private static DataField<string> Text(string name) => new(name);

    private static DateTime[] Times(ReadOnlySpan<long> nanoseconds)
    {
        var times = new DateTime[nanoseconds.Length];
        for (var i = 0; i < times.Length; i++)
            times[i] = new Instant(nanoseconds[i]).ToDateTimeOffset().UtcDateTime;
        return times;
    }
}
