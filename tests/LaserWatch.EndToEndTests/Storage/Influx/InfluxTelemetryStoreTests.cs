using System.Net;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Mqtt;
using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Storage.Influx;

/// <summary>What only this store does, on a real server behind the shim.</summary>
public sealed class InfluxTelemetryStoreTests(InfluxShop shop) : IClassFixture<InfluxShop>
{
    private static readonly Instant Start = new(1773041400000000000);

    private readonly LogLines<InfluxTelemetryStore> _log = new();

    [SkippableFact]
    public async Task The_server_holds_the_five_measurements_of_a_recording_with_their_tags_and_fields()
    {
        var options = shop.Options();
        await using var store = InfluxShop.Open(options);
        var batch = Everything();
        await store.AppendAsync(batch, default);
        await store.FlushAsync(default);

        var bucket = options.Influx!.Bucket;
        Assert.Equal(["alarm", "job_record", "job_run", "service", "telemetry"], Texts("SHOW MEASUREMENTS", bucket));
        Assert.Equal(["bay1"], Texts("SHOW TAG VALUES FROM telemetry WITH KEY = machine", bucket, column: 1));
        Assert.Equal(["power", "tube_current"], Texts("SHOW FIELD KEYS FROM telemetry", bucket));
        Assert.Equal(["condition", "machine"], Texts("SHOW TAG KEYS FROM alarm", bucket));
        Assert.Equal(["job"], Texts("SHOW TAG KEYS FROM job_record", bucket));
        Assert.Contains("gzip", shop.Shim.Encodings);
    }

    [SkippableFact]
    public async Task Without_gzip_the_lines_go_as_they_are()
    {
        var options = shop.Options();
        options = options with { Influx = options.Influx! with { Gzip = false } };
        shop.Shim.Encodings.Clear();
        await using var store = InfluxShop.Open(options);

        await store.AppendAsync(Everything(), default);
        await store.FlushAsync(default);

        Assert.Equal(["identity"], shop.Shim.Encodings);
        Assert.Equal(2, (await store.ReadExtentAsync("bay1", default))!.Value.Count);
    }

    [SkippableFact]
    public async Task Of_events_of_one_nanosecond_the_later_are_moved_at_the_server_and_come_back_at_their_time()
    {
        var options = shop.Options();
        var change = Everything().AlarmChanges[0];
        var batch = new StoreBatch();
        batch.AlarmChanges.AddRange([change, change with { State = AlarmState.Acknowledged, By = "ana" }]);
        await using (var store = InfluxShop.Open(options))
        {
            await store.AppendAsync(batch, default);
            await store.FlushAsync(default);
        }

        // Another process, later: the times already taken are remembered.
        await using var again = InfluxShop.Open(options);
        batch.AlarmChanges.RemoveAt(0);
        batch.AlarmChanges[0] = change with { State = AlarmState.Normal };
        await again.AppendAsync(batch, default);
        await again.FlushAsync(default);

        Assert.Equal(
            [Start.UnixNanoseconds, Start.UnixNanoseconds + 1, Start.UnixNanoseconds + 2],
            shop.Server.Ask("SELECT state FROM alarm", options.Influx!.Bucket).Select(row => row[0].GetInt64()));
        Assert.Equal(
            [(Start, AlarmState.Unacknowledged), (Start, AlarmState.Acknowledged), (Start, AlarmState.Normal)],
            (await again.ReadAlarmChangesAsync("bay1", Start, Start + TimeSpan.FromTicks(1), default)).Select(read => (read.Time, read.State)));
    }

    [SkippableFact]
    public async Task More_rows_than_a_page_come_back_all_and_those_of_foreign_tags_with_them()
    {
        var options = shop.Options();
        await using var store = InfluxShop.Open(options);
        var samples = Enumerable.Range(0, 25_000).Select(i => new Sample(Channel.Power, Start + TimeSpan.FromMilliseconds(10 * i), i)).ToList();
        var batch = new StoreBatch();
        batch.Samples.AddRange(samples.Select(sample => ("bay1", sample)));
        await store.AppendAsync(batch, default);
        await store.FlushAsync(default);

        // Somebody else's writer adds a tag: its rows have the times of ours, at the end of a page too.
        var foreign = string.Join('\n', samples.Select(s => $"telemetry,machine=bay1,host=a tube_current={s.Value + 0.5} {s.At.UnixNanoseconds}"));
        using var http = new HttpClient();
        using var content = new StringContent(foreign);
        Assert.Equal(HttpStatusCode.NoContent, (await http.PostAsync(new Uri($"http://127.0.0.1:{shop.Server.Port}/write?db={options.Influx!.Bucket}"), content)).StatusCode);

        var read = await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();

        Assert.Equal(samples.SelectMany(s => new[] { new Sample(Channel.TubeCurrent, s.At, s.Value + 0.5), s }), read);
        Assert.Equal(50_000, (await store.ReadExtentAsync("bay1", default))!.Value.Count);
    }

    [SkippableFact]
    public async Task Lines_that_the_server_refuses_are_set_aside_and_told_and_hold_up_nothing()
    {
        var options = shop.Options();
        var bucket = options.Influx!.Bucket;
        using (var http = new HttpClient())
        using (var wrong = new StringContent($"telemetry,machine=bay9 power=\"text\" {Start.UnixNanoseconds}"))
            Assert.Equal(HttpStatusCode.NoContent, (await http.PostAsync(new Uri($"http://127.0.0.1:{shop.Server.Port}/write?db={bucket}"), wrong)).StatusCode);
        var batch = new StoreBatch();
        batch.Samples.AddRange(Enumerable.Range(0, 1000).Select(i =>
            ("bay1", new Sample(i is 300 or 301 or 900 ? Channel.Power : Channel.TubeCurrent, Start + TimeSpan.FromSeconds(i), i))));

        await using (var store = InfluxTelemetryStore.Open(options, TimeSpan.FromSeconds(2), TimeProvider.System, _log))
        {
            await store.AppendAsync(batch, default);
            await store.FlushAsync(default);

            Assert.Equal(997, (await store.ReadSamplesAsync("bay1", [Channel.TubeCurrent], Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync()).Count);
            var gap = Assert.Single(await store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
            Assert.Equal(new Gap("bay1", Start + TimeSpan.FromSeconds(300), Start + TimeSpan.FromSeconds(900), "refused by InfluxDB", 3), gap);
            Assert.Equal((0, 0, 3), store.ReadWaiting());
            var told = Assert.Single(_log.Warnings);
            Assert.Contains("refuses 3 lines for good, such as 'telemetry,machine=bay1 power=300", told, StringComparison.Ordinal);
            Assert.Contains("field type conflict", told, StringComparison.Ordinal);
        }

        // Somebody puts the bucket right: the next start sends them, and the gap is closed.
        shop.Server.Ask("DROP MEASUREMENT telemetry", bucket);
        await using var mended = InfluxShop.Open(options);
        await RealBroker.UntilAsync(() => mended.ReadWaiting().Refused == 0, "lines set aside are not sent");
        Assert.Equal(
            [300, 301, 900.0],
            await mended.ReadSamplesAsync("bay1", [Channel.Power], Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).Select(sample => sample.Value).ToListAsync());
        Assert.Empty(await mended.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
    }

    [SkippableFact]
    public async Task A_request_that_is_too_large_is_sent_in_pieces()
    {
        var options = shop.Options();
        await using var store = InfluxShop.Open(options);
        shop.Shim.OnWrite = body => body.Contains("too-large", StringComparison.Ordinal) && body.Count(c => c == '\n') > 9 ? (HttpStatusCode.RequestEntityTooLarge, "request body too large") : null;
        var batch = new StoreBatch();
        batch.Samples.AddRange(Enumerable.Range(0, 100).Select(i => ("too-large", new Sample(Channel.Power, Start + TimeSpan.FromSeconds(i), i))));

        await store.AppendAsync(batch, default);
        await store.FlushAsync(default);
        shop.Shim.OnWrite = null;

        Assert.Equal((0, 0, 0), store.ReadWaiting());
        Assert.Equal([100], shop.Server.Ask("SELECT count(power) FROM telemetry", options.Influx!.Bucket).Select(row => row[1].GetInt32()));
    }

    [SkippableFact]
    public async Task A_full_spool_refuses_whole_batches_until_the_server_takes_them()
    {
        var options = shop.Options();
        options = options with { Influx = options.Influx! with { SpoolMegabytes = 1, Url = $"http://127.0.0.1:{RealBroker.FreePort()}" } };
        await using var store = InfluxShop.Open(options);
        var batch = new StoreBatch();
        var number = 0;
        async Task FillAsync()
        {
            while (number < 1000)
            {
                batch.Clear();
                batch.Samples.AddRange(Enumerable.Range(0, 500).Select(i => ("bay1", new Sample(Channel.Power, Start + TimeSpan.FromMilliseconds((number * 500) + i), i))));
                batch.Deliveries.Add(new PacketDelivery("agent", (ushort)(number + 1), 7));
                await store.AppendAsync(batch, default);
                number++;
            }
        }

        var full = await Assert.ThrowsAsync<StoreException>(FillAsync);

        Assert.Contains($"The spool {options.Path} is full, 1 MB wait for InfluxDB {options.Influx.Url}", full.Message, StringComparison.Ordinal);
        Assert.InRange(number, 20, 60);
        Assert.True(await store.WasDeliveredAsync(new PacketDelivery("agent", (ushort)number, 7), default));
        Assert.False(await store.WasDeliveredAsync(new PacketDelivery("agent", (ushort)(number + 1), 7), default)); // so the broker will not be told
        batch.Clear();
        batch.WatchStates.Add(("bay1", [1]));
        await store.AppendAsync(batch, default); // what needs no room in the spool is kept
        Assert.Equal([1], await store.ReadWatchStateAsync("bay1", default));
    }

    [SkippableFact]
    public async Task A_server_that_is_only_slower_than_the_writer_holds_it_up_and_loses_nothing()
    {
        var options = shop.Options();
        options = options with { Influx = options.Influx! with { SpoolMegabytes = 1, IntervalMs = 600_000 } };
        await using var store = InfluxShop.Open(options);
        var batch = new StoreBatch();
        for (var number = 0; number < 80; number++)
        {
            batch.Clear();
            batch.Samples.AddRange(Enumerable.Range(0, 500).Select(i => ("bay1", new Sample(Channel.Power, Start + TimeSpan.FromMilliseconds((number * 500) + i), i))));
            await store.AppendAsync(batch, default);
        }

        Assert.Equal(40_000, (await store.ReadExtentAsync("bay1", default))!.Value.Count);
    }

    [SkippableFact]
    public async Task A_wrong_token_is_told_once_and_everything_waits_until_it_is_put_right()
    {
        var options = shop.Options();
        var token = shop.File("changing-token");
        await File.WriteAllTextAsync(token, "wrong");
        options = options with { Influx = options.Influx! with { Token = new Secret { File = token } } };
        await using var store = InfluxTelemetryStore.Open(options, TimeSpan.FromSeconds(2), TimeProvider.System, _log);
        await store.AppendAsync(Everything(), default);
        await RealBroker.UntilAsync(() => _log.Warnings.Count > 0, "nothing is told");

        Assert.StartsWith($"No writing to InfluxDB {shop.Shim.Url} (bucket {options.Influx.Bucket}): it answers 401: ", _log.Warnings[0], StringComparison.Ordinal);
        Assert.Contains("give a token that may read and write the bucket in store.influx.token", _log.Warnings[0], StringComparison.Ordinal);
        var reading = await Assert.ThrowsAsync<StoreException>(async () => await store.ReadMachinesAsync(default));
        Assert.False(reading.MayPass);

        await File.WriteAllTextAsync(token, V2Shim.Token);
        await RealBroker.UntilAsync(() => store.ReadWaiting().Lines == 0, "nothing is sent");
        await RealBroker.UntilAsync(() => _log.Warnings.Count == 2, "the end is not told");
        Assert.Contains("takes writes again", _log.Warnings[1], StringComparison.Ordinal);
        Assert.Equal(["bay1"], await store.ReadMachinesAsync(default));
    }

    [SkippableFact]
    public async Task A_bucket_that_is_not_there_is_told_with_the_mend()
    {
        var options = shop.Options();
        options = options with { Influx = options.Influx! with { Bucket = "nobody's" } };
        await using var store = InfluxTelemetryStore.Open(options, TimeSpan.FromSeconds(2), TimeProvider.System, _log);
        await store.AppendAsync(Everything(), default);
        await RealBroker.UntilAsync(() => _log.Warnings.Count > 0, "nothing is told");

        Assert.Contains("it answers 404: ", _log.Warnings[0], StringComparison.Ordinal);
        Assert.Contains("make the bucket (and on InfluxDB before 2.4 its mapping for InfluxQL), or put store.influx.bucket, organisation and url right", _log.Warnings[0], StringComparison.Ordinal);
        Assert.Contains("database not found", (await Assert.ThrowsAsync<StoreException>(async () => await store.ReadMachinesAsync(default))).Message, StringComparison.Ordinal);
        Assert.Contains("database not found", (await Assert.ThrowsAsync<StoreException>(() => InfluxTelemetryStore.CheckServerAsync(options.Influx, default))).Message, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_server_that_is_away_ends_reading_with_address_cause_and_mend_and_may_pass()
    {
        var options = shop.Options();
        var port = RealBroker.FreePort();
        options = options with { Influx = options.Influx! with { Url = $"http://127.0.0.1:{port}" } };
        await using var store = InfluxShop.Open(options);
        await store.AppendAsync(Everything(), default);

        var away = await Assert.ThrowsAsync<StoreException>(async () => await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, default));

        Assert.True(away.MayPass);
        Assert.StartsWith($"InfluxDB http://127.0.0.1:{port} (bucket {options.Influx.Bucket}) cannot be read: ", away.Message, StringComparison.Ordinal);
        Assert.EndsWith("is the server running, and store.influx.url its address?", away.Message, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task The_check_writes_nothing_and_tells_a_good_server()
    {
        var options = shop.Options();

        await InfluxTelemetryStore.CheckServerAsync(options.Influx!, default);

        Assert.Empty(shop.Server.Ask("SHOW MEASUREMENTS", options.Influx!.Bucket));
    }

    [SkippableFact]
    public async Task What_was_appended_is_seen_at_once_while_it_is_on_its_way_a_new_channel_too()
    {
        await using var store = InfluxShop.Open(shop.Options());
        var table = new ChannelTable();
        var batch = new StoreBatch();
        for (var i = 0; i < 150; i++)
        {
            Assert.True(table.TryGet($"channel_{i}", out var channel));
            batch.Clear();
            batch.Samples.Add(("bay1", new Sample(channel, Start + TimeSpan.FromSeconds(i), i)));
            await store.AppendAsync(batch, default);

            var read = await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, table, default).ToListAsync();

            Assert.Equal(Enumerable.Range(0, i + 1).Select(n => (double)n), read.Select(sample => sample.Value));
            Assert.Equal(i + 1, (await store.ReadExtentAsync("bay1", default))!.Value.Count);
        }
    }

    [SkippableFact]
    public async Task What_another_process_appends_is_read_at_once_and_sent_too()
    {
        var options = shop.Options();
        await using var agent = InfluxShop.Open(options);
        await using var verb = InfluxShop.Open(options);
        await using var reader = InfluxTelemetryStore.OpenForReading(options, NullLogger.Instance);

        await verb.AppendAsync(Everything(), default);

        Assert.Equal(2, (await reader.ReadExtentAsync("bay1", default))!.Value.Count);
        await agent.FlushAsync(default);
        Assert.Equal((0, 0, 0), reader.ReadWaiting());
    }

    [SkippableFact]
    public async Task The_embedded_stores_file_is_not_taken_for_a_spool_nor_the_other_way_round()
    {
        var options = shop.Options();
        await using (SqliteTelemetryStore.Open(options))
        {
        }

        var embedded = Assert.Throws<StoreException>(() => InfluxShop.Open(options));
        Assert.Contains("is an embedded store", embedded.Message, StringComparison.Ordinal);

        options = shop.Options();
        await using (InfluxShop.Open(options))
        {
        }

        Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(options));
        Assert.Throws<StoreException>(() => InfluxTelemetryStore.OpenForReading(options with { Path = shop.File("nothing.db") }, NullLogger.Instance));
    }

    private static StoreBatch Everything()
    {
        var batch = new StoreBatch();
        batch.Samples.AddRange([("bay1", new Sample(Channel.TubeCurrent, Start, 18.2)), ("bay1", new Sample(Channel.Power, Start, 66))]);
        batch.JobRecords.Add(new JobRecord("birch-6-cut", Start, "birch", new Quantities.PowerPercent(66), 11, new Quantities.Kilopascals(210), null));
        batch.JobRuns.Add(new JobEvent("bay1", Start, JobEventKind.Start, "birch-6-cut"));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", Start, "tube", "replaced", "T-000001", null, ServiceEvent.NoDetails));
        batch.AlarmChanges.Add(new AlarmChange(
            Start, "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, 189, "kPa", "birch-6-cut", "low",
            [new Evidence("limit", 189)], ["regulator"]));
        return batch;
    }

    private IEnumerable<string?> Texts(string statement, string bucket, int column = 0) =>
        shop.Server.Ask(statement, bucket).Select(row => row[column].GetString());
}
