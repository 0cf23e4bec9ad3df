using System.Text.RegularExpressions;
using LaserWatch.Mqtt;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Deaths of the server and of the writer, at moments that a seed decides.</summary>
public sealed partial class InfluxOutageTests(InfluxShop shop) : IClassFixture<InfluxShop>
{
    [SkippableFact]
    public async Task Writer_and_server_killed_again_and_again_lose_nothing_and_the_order_is_kept()
    {
        var options = shop.Options();
        var moments = new Random(20260309);
        var reached = new List<long>();
        shop.Shim.OnWrite = body =>
        {
            lock (reached)
                reached.AddRange(Current().Matches(body).Select(match => long.Parse(match.Groups[1].ValueSpan, System.Globalization.CultureInfo.InvariantCulture)));
            return null;
        };
        long next = 0;
        for (var round = 0; round < 4; round++)
        {
            var reported = next - 1;
            using (var writer = new StoreWriterProcess(options.Path, next, shop.Shim.Url, options.Influx!.Bucket, shop.File("token")))
            {
                reported = await ReadAsync(writer, moments.Next(1, 100));
                await shop.Server.KillAsync();
                reported = await ReadAsync(writer, moments.Next(1, 200));
                if (round % 2 == 0)
                    await shop.Server.RunAsync();
                reported = await ReadAsync(writer, moments.Next(1, 200));
                reported = await writer.KillAsync() ?? reported;
            }

            if (round % 2 != 0)
                await shop.Server.RunAsync();
            var last = await AssertWholeAsync(options, flush: round == 3);
            Assert.True(last >= reported, $"Batch {reported} was reported in round {round}, but the newest kept is {last}.");
            next = last + 1;
        }

        // What was sent again counts where it came first.
        Assert.Equal(Enumerable.Range(0, (int)next).Select(i => (long)i), reached.Distinct());
        shop.Shim.OnWrite = null;
    }

    [SkippableFact]
    public async Task An_outage_in_the_middle_of_writing_is_told_at_its_begin_and_at_its_end_and_nothing_is_lost()
    {
        var options = shop.Options();
        var log = new LogLines<InfluxTelemetryStore>();
        await using var store = InfluxTelemetryStore.Open(options, TimeSpan.FromSeconds(2), TimeProvider.System, log);
        var batch = new StoreBatch();
        for (var number = 0; number < 300; number++)
        {
            NumberedBatch.Fill(batch, number);
            await store.AppendAsync(batch, default);
            if (number == 100)
            {
                await shop.Server.KillAsync();
                await RealBroker.UntilAsync(() => log.Warnings.Count > 0 || store.ReadWaiting().Lines == 0, "nothing is told");
            }

            if (number == 200)
                await RealBroker.UntilAsync(() => store.IsServerFailing, "the outage is not noticed");
        }

        await shop.Server.RunAsync();
        await RealBroker.UntilAsync(() => store.ReadWaiting().Lines == 0, "what waited is not sent");
        await RealBroker.UntilAsync(() => log.Warnings.Count == 2, "the end is not told");
        Assert.StartsWith("No writing to InfluxDB", log.Warnings[0], StringComparison.Ordinal);
        Assert.Contains("takes writes again", log.Warnings[1], StringComparison.Ordinal);
        Assert.Equal(299, await LastWholeAsync(store));
    }

    private static async Task<long> ReadAsync(StoreWriterProcess writer, int lines)
    {
        long last = -1;
        for (; lines > 0; lines--)
            last = await writer.ReadReportAsync() ?? throw new InvalidOperationException("The writer ended by itself.");
        return last;
    }

    private static async Task<long> AssertWholeAsync(StoreOptions options, bool flush)
    {
        await using var store = InfluxShop.Open(options);
        if (flush)
        {
            await store.FlushAsync(default);
            Assert.Equal((0, 0, 0), store.ReadWaiting());
        }

        return await LastWholeAsync(store);
    }

    /// <summary>Every batch from 0 on is there whole; the number of the last.</summary>
    private static async Task<long> LastWholeAsync(InfluxTelemetryStore store)
    {
        var samples = await store.ReadSamplesAsync(NumberedBatch.Machine, null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();
        var last = (samples.Count / NumberedBatch.Samples) - 1;
        var batch = new StoreBatch();
        var expected = new List<Sample>();
        var alarms = new List<double?>();
        for (var number = 0; number <= last; number++)
        {
            NumberedBatch.Fill(batch, number);
            expected.AddRange(batch.Samples.Select(entry => entry.Sample));
            alarms.AddRange(batch.AlarmChanges.Select(change => change.Value));
        }

        Assert.Equal(expected.OrderBy(sample => sample.At), samples);
        Assert.Equal(alarms, (await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, default)).Select(change => change.Value));
        Assert.True(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last), default));
        Assert.False(await store.WasDeliveredAsync(NumberedBatch.DeliveryOf(last + 1), default));
        return last;
    }

    [GeneratedRegex("tube_current=([0-9]+)")]
    private static partial Regex Current();
}
