using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>What every store does alike. A new store gets a subclass.</summary>
public abstract class TelemetryStoreContract
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    private readonly ChannelTable _table = new();

    protected abstract ITelemetryStore Make(StoreOptions options);

    /// <summary>False: of two samples of one channel and time the last stands, and none is counted as ignored.</summary>
    protected virtual bool KeepsFirstOfTwo => true;

    /// <summary>False: the server deletes samples and events by a retention of its own, and their roll-ups with them; upkeep deletes gaps only.</summary>
    protected virtual bool DeletesByAge => true;

    /// <summary>False: alarms of one time but of different machines or conditions come in an order of the store's own.</summary>
    protected virtual bool OrdersByAppending => true;

    /// <summary>The earliest time that a sample can have.</summary>
    protected virtual Instant Earliest => Instant.MinValue;

    protected virtual Gen<string> ConditionNames => PlainText;

    /// <summary>What the store's own format leaves of an alarm's texts and numbers.</summary>
    protected virtual AlarmChange AsKept(AlarmChange change) => change;

    /// <summary>What the store's own format leaves of an event's texts.</summary>
    protected virtual ServiceEvent AsKept(ServiceEvent service) => service;

    /// <summary>Any text that UTF-8 can carry: half a surrogate pair is none.</summary>
    private static Gen<string> PlainText => Gen.String.Where(s => !s.Any(char.IsSurrogate));

    private IEnumerable<Sample> Standing(IEnumerable<Sample> appended) =>
        (KeepsFirstOfTwo ? appended : appended.Reverse()).DistinctBy(s => (s.Channel, s.At));

    [SkippableFact]
    public async Task Samples_come_back_in_time_order_to_the_last_nanosecond_whatever_their_order_of_arrival()
    {
        await using var store = Make(new StoreOptions());
        Sample[] samples =
        [
            new(Channel.TubeCurrent, new Instant(1773041400000000003), 18.2),
            new(Channel.Power, new Instant(1773041400000000001), 66),
            new(Channel.TubeCurrent, new Instant(1773041400000000001), 18.1),
            new(Channel.AirPressure, new Instant(1773041400000000002), 209.4),
        ];

        await store.AppendAsync(Batch("bay1", samples), default);

        Assert.Equal([samples[2], samples[1], samples[3], samples[0]], await ReadAsync(store, "bay1"));
    }

    [SkippableFact]
    public async Task Random_samples_come_back_as_a_sorted_list_would_give_them()
    {
        var channels = new[] { Channel.TubeCurrent, Channel.Power, Channel.CoolantIn };
        var samples = Gen.Select(
            Gen.OneOf(channels), Gen.Long[-50, 50], Gen.Double[-1e6, 1e6],
            (channel, at, value) => new Sample(channel, new Instant(at), value + 0.0));
        var cases = Gen.Select(samples.Array[0, 60], Gen.OneOf<Channel[]?>([null, [Channel.Power], [Channel.TubeCurrent, Channel.CoolantIn]]), Gen.Long[-60, 60], Gen.Long[-60, 60]);

        await cases.SampleAsync(
            async (appended, wanted, from, to) =>
            {
                await using var store = Make(new StoreOptions());
                foreach (var part in appended.Chunk(7))
                    await store.AppendAsync(Batch("bay1", part), default);

                var expected = Standing(appended)
                    .Where(s => wanted is null || wanted.Contains(s.Channel))
                    .Where(s => s.At.UnixNanoseconds >= from && s.At.UnixNanoseconds < to)
                    .OrderBy(s => s.At).ThenBy(s => s.Channel.Index);
                Assert.Equal(expected, await ReadAsync(store, "bay1", wanted, new Instant(from), new Instant(to)));
            },
            iter: Rounds.Of(40), threads: 1);
    }

    [SkippableFact]
    public async Task More_samples_than_a_page_holds_come_back_all_in_order()
    {
        await using var store = Make(new StoreOptions());
        var samples = Enumerable.Range(0, 5000)
            .Select(i => new Sample(i % 3 == 0 ? Channel.TubeCurrent : Channel.Power, Start + TimeSpan.FromMilliseconds(i), i))
            .ToList();

        await store.AppendAsync(Batch("bay1", [.. samples]), default);

        Assert.Equal(samples, await ReadAsync(store, "bay1"));
    }

    [SkippableFact]
    public async Task Of_two_samples_of_one_time_one_stands()
    {
        await using var store = Make(new StoreOptions());
        var kept = new Sample(Channel.TubeCurrent, Start, 18.2);

        await store.AppendAsync(Batch("bay1", [kept, kept]), default);
        await store.AppendAsync(Batch("bay1", [kept, kept with { Value = 17.9 }]), default);
        await store.AppendAsync(Batch("bay2", [kept with { Value = 17.9 }]), default);

        Assert.Equal([KeepsFirstOfTwo ? kept : kept with { Value = 17.9 }], await ReadAsync(store, "bay1"));
        Assert.Equal(KeepsFirstOfTwo ? new IgnoredSamples(Duplicates: 2, Conflicts: 1) : default, await store.ReadIgnoredAsync("bay1", default));
        Assert.Equal(default, await store.ReadIgnoredAsync("bay2", default));
        Assert.Equal(default, await store.ReadIgnoredAsync("bay3", default));
    }

    [SkippableFact]
    public async Task A_batch_with_a_sample_that_is_not_finite_is_refused_whole()
    {
        await using var store = Make(new StoreOptions());

        await Assert.ThrowsAsync<ArgumentException>(async () => await store.AppendAsync(
            Batch("bay1", [new(Channel.Power, Start, 66), new(Channel.TubeCurrent, Start, double.NaN)]), default));

        Assert.Empty(await ReadAsync(store, "bay1"));
    }

    [SkippableFact]
    public async Task The_ends_of_time_and_of_the_range_of_numbers_are_kept()
    {
        await using var store = Make(new StoreOptions());
        Sample[] samples =
        [
            new(Channel.TubeCurrent, Earliest, double.MaxValue),
            new(Channel.TubeCurrent, new Instant(-1), double.MinValue),
            new(Channel.TubeCurrent, new Instant(0), double.Epsilon),
            new(Channel.TubeCurrent, new Instant(long.MaxValue - 1), 0.1),
        ];

        await store.AppendAsync(Batch("bay1", samples), default);
        await store.MaintainAsync(Instant.MinValue, default);

        Assert.Equal(samples, await ReadAsync(store, "bay1"));
        Assert.Equal(new SampleExtent(Earliest, new Instant(long.MaxValue - 1), 4), await store.ReadExtentAsync("bay1", default));
    }

    [SkippableFact]
    public async Task A_channel_that_is_not_canonical_comes_back_with_its_unit_into_another_table()
    {
        await using var store = Make(new StoreOptions());
        var channel = _table.Declare("exhaust_pressure", "Pa");
        await store.AppendAsync(Batch("bay1", [new(channel, Start, -120)]), default);
        var other = new ChannelTable();

        var sample = Assert.Single(await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, other, default).ToListAsync());

        Assert.Equal(("exhaust_pressure", "Pa", -120.0), (sample.Channel.Name, sample.Channel.Unit, sample.Value));
        Assert.Same(other.All[^1], sample.Channel);
    }

    [SkippableFact]
    public async Task The_channels_of_a_machine_are_told_by_their_index_and_with_their_units()
    {
        await using var store = Make(new StoreOptions());
        var exhaust = _table.Declare("exhaust_pressure", "Pa");
        await store.AppendAsync(Batch("bay1", [new(exhaust, Start, -120), new(Channel.Power, Start, 66), new(Channel.TubeCurrent, Start, 18)]), default);
        await store.AppendAsync(Batch("bay2", [new(Channel.Lasing, Start, 1)]), default);

        var channels = await store.ReadChannelsAsync("bay1", new ChannelTable(), default);

        Assert.Equal([("tube_current", "mA"), ("power", "%"), ("exhaust_pressure", "Pa")], channels.Select(channel => (channel.Name, channel.Unit)));
        Assert.Empty(await store.ReadChannelsAsync("bay3", new ChannelTable(), default));
    }

    [SkippableFact]
    public async Task Channels_of_two_tables_with_one_index_are_kept_apart()
    {
        await using var store = Make(new StoreOptions());
        var one = new ChannelTable().Declare("door", "");
        var other = new ChannelTable().Declare("fan", "");
        Assert.Equal(one.Index, other.Index);

        await store.AppendAsync(Batch("bay1", [new(one, Start, 1), new(other, Start, 2), new(one, Start + TimeSpan.FromSeconds(1), 3)]), default);

        Assert.Equal([("door", 1.0), ("fan", 2.0), ("door", 3.0)], (await ReadAsync(store, "bay1")).OrderBy(s => s.Value).Select(s => (s.Channel.Name, s.Value)));
    }

    [SkippableFact]
    public async Task Machines_and_extents_tell_what_is_held()
    {
        await using var store = Make(new StoreOptions());
        var batch = Batch("bay2", [new(Channel.Power, Start, 66), new(Channel.TubeCurrent, Start + TimeSpan.FromMinutes(90), 18)]);
        batch.JobRuns.Add(new JobEvent("bay1", Start, JobEventKind.Start, "birch-6-cut"));
        await store.AppendAsync(batch, default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(5), default);
        await store.AppendAsync(Batch("bay2", [new(Channel.Power, Start + TimeSpan.FromSeconds(1), 66)]), default);

        Assert.Equal(["bay1", "bay2"], await store.ReadMachinesAsync(default));
        Assert.Equal(new SampleExtent(Start, Start + TimeSpan.FromMinutes(90), 3), await store.ReadExtentAsync("bay2", default));
        Assert.Null(await store.ReadExtentAsync("bay1", default));
    }

    [SkippableFact]
    public async Task Job_records_come_back_equal_and_the_last_of_one_job_and_time_stands()
    {
        await using var store = Make(new StoreOptions());
        var full = new JobRecord(
            "birch-6-cut", Start, "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2), CutMode.Raster, 0.08);
        var bare = new JobRecord("acrylic-3-cut", Start, null, null, null, null, null);
        var batch = new StoreBatch();
        batch.JobRecords.AddRange([full with { SpeedMmPerS = 10 }, bare, full, full with { RecordedAt = Start + TimeSpan.FromDays(1) }]);

        await store.AppendAsync(batch, default);

        Assert.Equal([bare, full, full with { RecordedAt = Start + TimeSpan.FromDays(1) }], await store.ReadJobRecordsAsync(default));
    }

    [SkippableFact]
    public async Task Runs_come_back_in_time_order_and_equal_ones_are_all_kept()
    {
        await using var store = Make(new StoreOptions());
        var start = new JobEvent("bay1", Start + TimeSpan.FromSeconds(1), JobEventKind.Start, "birch-6-cut");
        var end = new JobEvent("bay1", Start + TimeSpan.FromSeconds(9), JobEventKind.End, null, Inferred: true);
        var batch = new StoreBatch();
        batch.JobRuns.AddRange([end, start, start, start with { Machine = "bay2" }]);

        await store.AppendAsync(batch, default);

        Assert.Equal([start, start, end], await store.ReadJobRunsAsync("bay1", Start, Instant.MaxValue, default));
        Assert.Equal([start, start], await store.ReadJobRunsAsync("bay1", start.At, end.At, default));
    }

    [SkippableFact]
    public async Task Service_events_come_back_with_every_detail()
    {
        await using var store = Make(new StoreOptions());
        var replaced = new ServiceEvent(
            "bay1", Start, "tube", "replaced", "T-000001", "first \"good\" one\0\n°µ漢", new Dictionary<string, string> { ["power"] = "66", [""] = "" });
        var drained = new ServiceEvent("bay1", Start, "water-trap", "drained", null, null, ServiceEvent.NoDetails);
        var batch = new StoreBatch();
        batch.ServiceEvents.AddRange([replaced, drained, drained with { Machine = "bay2" }]);

        await store.AppendAsync(batch, default);

        var read = await store.ReadServiceEventsAsync("bay1", Start, Instant.MaxValue, default);
        replaced = AsKept(replaced);
        Assert.Equal([replaced, drained], read.Select((service, i) => service with { Details = i == 0 ? replaced.Details : drained.Details }));
        Assert.Equal([replaced.Details, drained.Details], read.Select(service => service.Details));
    }

    [SkippableFact]
    public async Task Random_alarm_transitions_come_back_equal_in_every_field()
    {
        var text = PlainText;
        var evidence = Gen.OneOf(
            Gen.Select(text, Gen.Double, (name, number) => new Evidence(name, number)),
            Gen.Select(text, text, (name, words) => new Evidence(name, words)));
        var changes = Gen.Select(
            Gen.Select(Gen.Long.Where(at => at >= Earliest.UnixNanoseconds), Gen.OneOf("bay1", "bay2"), ConditionNames, Gen.Enum<AlarmState>(), Gen.Enum<AlarmPriority>()),
            Gen.Select(Gen.Nullable(Gen.Double), Gen.Nullable(Gen.Double), text, Gen.Null(text), text),
            Gen.Select(evidence.Array[0, 4], text.Array[0, 4], Gen.Null(text)),
            (a, b, c) => new AlarmChange(
                new Instant(a.Item1), a.Item2, a.Item3, a.Item4, a.Item5, b.Item1, b.Item2, b.Item3, b.Item4, b.Item5, c.Item1, c.Item2, c.Item3));

        await changes.Array[1, 12].SampleAsync(
            async appended =>
            {
                await using var store = Make(new StoreOptions());
                var batch = new StoreBatch();
                batch.AlarmChanges.AddRange(appended);
                await store.AppendAsync(batch, default);

                var held = appended.Where(change => change.Time < Instant.MaxValue).OrderBy(change => change.Time).ToList();
                var all = await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, default);
                Assert.Equal(held.Select(change => change.Time), all.Select(change => change.Time));
                AssertEqual(Ordered(held).Select(AsKept), [.. Ordered(all)]);
                AssertEqual(
                    Ordered(held.Where(change => change.Machine == "bay2" && change.Time >= new Instant(0))).Select(AsKept),
                    [.. Ordered(await store.ReadAlarmChangesAsync("bay2", new Instant(0), Instant.MaxValue, default))]);

                IEnumerable<AlarmChange> Ordered(IEnumerable<AlarmChange> changes) => OrdersByAppending
                    ? changes
                    : changes.OrderBy(change => change.Time).ThenBy(change => change.Machine, StringComparer.Ordinal).ThenBy(change => change.Condition, StringComparer.Ordinal);
            },
            iter: Rounds.Of(30), threads: 1);
    }

    [SkippableFact]
    public async Task Gaps_that_touch_the_bounds_are_read()
    {
        await using var store = Make(new StoreOptions());
        Gap Of(double from, double to) => new("bay1", Start + TimeSpan.FromSeconds(from), Start + TimeSpan.FromSeconds(to), "queue full", 7);
        var batch = new StoreBatch();
        batch.Gaps.AddRange([Of(30, 40), Of(0, 10), Of(5, 15), Of(10, 10), Of(19, 25), Of(20, 30)]);
        batch.Gaps.Add(Of(11, 12) with { Machine = "bay2" });

        await store.AppendAsync(batch, default);

        Assert.Equal(
            [Of(5, 15), Of(10, 10), Of(19, 25)],
            await store.ReadGapsAsync("bay1", Start + TimeSpan.FromSeconds(10), Start + TimeSpan.FromSeconds(20), default));
    }

    [SkippableFact]
    public async Task The_newest_state_of_a_watch_replaces_the_one_before()
    {
        await using var store = Make(new StoreOptions());
        var batch = new StoreBatch();
        batch.WatchStates.AddRange([("bay1", [1, 2, 3]), ("bay2", []), ("bay1", [4, 0, 5])]);

        await store.AppendAsync(batch, default);

        Assert.Equal(new byte[] { 4, 0, 5 }, await store.ReadWatchStateAsync("bay1", default));
        Assert.Equal(Array.Empty<byte>(), await store.ReadWatchStateAsync("bay2", default));
        Assert.Null(await store.ReadWatchStateAsync("bay3", default));
    }

    [SkippableFact]
    public async Task A_delivery_is_known_again_by_session_identifier_and_content()
    {
        await using var store = Make(new StoreOptions());
        var kept = new PacketDelivery("agent-1", 7, ulong.MaxValue - 3);
        var batch = new StoreBatch();
        batch.Deliveries.Add(kept);
        await store.AppendAsync(batch, default);

        Assert.True(await store.WasDeliveredAsync(kept, default));
        Assert.False(await store.WasDeliveredAsync(kept with { Session = "agent-2" }, default));
        Assert.False(await store.WasDeliveredAsync(kept with { PacketId = 8 }, default));
        Assert.False(await store.WasDeliveredAsync(kept with { ContentHash = 1 }, default));
    }

    [SkippableFact]
    public async Task A_packet_identifier_used_again_stands_for_its_new_content()
    {
        await using var store = Make(new StoreOptions());
        var batch = new StoreBatch();
        batch.Deliveries.AddRange([new PacketDelivery("agent-1", 7, 1), new PacketDelivery("agent-1", 7, 2)]);
        await store.AppendAsync(batch, default);

        Assert.False(await store.WasDeliveredAsync(new PacketDelivery("agent-1", 7, 1), default));
        Assert.True(await store.WasDeliveredAsync(new PacketDelivery("agent-1", 7, 2), default));
    }

    [SkippableFact]
    public async Task A_delivery_is_forgotten_after_4096_more_of_its_session()
    {
        await using var store = Make(new StoreOptions());
        var first = new PacketDelivery("agent-1", 1, 1);
        var batch = new StoreBatch();
        batch.Deliveries.Add(first);
        batch.Deliveries.AddRange(Enumerable.Range(2, 4095).Select(id => new PacketDelivery("agent-1", (ushort)id, 1)));
        batch.Deliveries.AddRange(Enumerable.Range(1, 5000).Select(id => new PacketDelivery("agent-2", (ushort)id, 1)));
        await store.AppendAsync(batch, default);
        Assert.True(await store.WasDeliveredAsync(first, default));

        batch.Clear();
        batch.Deliveries.Add(new PacketDelivery("agent-1", 5000, 1));
        await store.AppendAsync(batch, default);
        Assert.False(await store.WasDeliveredAsync(first, default));

        await store.MaintainAsync(Start, default);
        Assert.False(await store.WasDeliveredAsync(first, default));
        Assert.True(await store.WasDeliveredAsync(new PacketDelivery("agent-1", 2, 1), default));
    }

    [SkippableFact]
    public async Task Roll_ups_give_count_lowest_mean_and_highest_by_minute_and_by_hour()
    {
        await using var store = Make(new StoreOptions());
        await store.AppendAsync(
            Batch("bay1",
            [
                new(Channel.TubeCurrent, Start, 18), new(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(59.9), 20),
                new(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(60), 16), new(Channel.TubeCurrent, Start + TimeSpan.FromHours(1), 17),
                new(Channel.Power, Start, 66),
            ]), default);
        await store.MaintainAsync(Start + TimeSpan.FromHours(2), default);

        Assert.Equal(
            [
                new RollUp(Start, 2, 18, 19, 20), new RollUp(Start + TimeSpan.FromMinutes(1), 1, 16, 16, 16),
                new RollUp(Start + TimeSpan.FromHours(1), 1, 17, 17, 17),
            ],
            await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Minute));
        Assert.Equal(
            [new RollUp(Start, 3, 16, 18, 20), new RollUp(Start + TimeSpan.FromHours(1), 1, 17, 17, 17)],
            await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Hour));
        Assert.Equal(
            [new RollUp(Start + TimeSpan.FromMinutes(1), 1, 16, 16, 16)],
            await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Start + TimeSpan.FromTicks(1), Start + TimeSpan.FromHours(1), default).ToListAsync());
        Assert.Equal(
            [new RollUp(Start + TimeSpan.FromHours(1), 1, 17, 17, 17)],
            await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Hour, Start + TimeSpan.FromTicks(1), Instant.MaxValue, default).ToListAsync());
        Assert.Empty(await RollUpsAsync(store, Channel.CoolantIn, RollUpSpan.Hour));
    }

    [SkippableFact]
    public async Task Roll_ups_equal_the_plain_computation_whatever_the_order_of_arrival_upkeep_and_deletion()
    {
        // Times over three hours about the epoch, where minutes change sign, and days earlier, beyond what is kept.
        var at = Gen.OneOf(Gen.Long[-5400, 5400], Gen.Long[-86400 * 3, -86400 * 3 + 600], Gen.Long[-86400, -86400 + 120]);
        var sample = Gen.Select(at, Gen.Int[0, 999_999_999], Gen.Double[-1e3, 1e3], (s, ns, v) => new Sample(Channel.TubeCurrent, new Instant((s * 1_000_000_000) + ns), v));
        var steps = Gen.Select(sample.Array[0, 12], Gen.Nullable(Gen.Long[-86400 * 2, 86400 * 3])).Array[1, 8];

        await steps.SampleAsync(
            async taken =>
            {
                await using var store = Make(new StoreOptions { KeepSamplesDays = 1 });
                foreach (var (samples, now) in taken)
                {
                    await store.AppendAsync(Batch("bay1", samples), default);
                    if (now is { } seconds)
                        await store.MaintainAsync(new Instant(seconds * 1_000_000_000), default);
                }

                var all = Standing(taken.SelectMany(step => step.Item1)).ToList();
                AssertClose(PlainRollUps(all, 60_000_000_000), await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Minute));
                AssertClose(PlainRollUps(all, 3_600_000_000_000), await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Hour));
                Assert.Equal((await ReadAsync(store, "bay1")).Count, (await store.ReadExtentAsync("bay1", default))?.Count ?? 0);
            },
            iter: Rounds.Of(50), threads: 1);
    }

    [SkippableFact]
    public async Task Samples_older_than_they_are_to_be_kept_live_on_in_the_roll_ups_only()
    {
        await using var store = Make(new StoreOptions { KeepSamplesDays = 2 });
        var old = new Sample(Channel.TubeCurrent, Start, 18);
        var young = new Sample(Channel.TubeCurrent, Start + TimeSpan.FromDays(2), 17);
        await store.AppendAsync(Batch("bay1", [old, young]), default);

        var done = await store.MaintainAsync(Start + TimeSpan.FromDays(3), default);

        Assert.Equal(DeletesByAge ? 1 : 0, done.DeletedSamples);
        Assert.Equal(DeletesByAge ? [young] : [old, young], await ReadAsync(store, "bay1"));
        Assert.Equal(DeletesByAge ? new SampleExtent(young.At, young.At, 1) : new SampleExtent(old.At, young.At, 2), await store.ReadExtentAsync("bay1", default));
        Assert.Equal([new RollUp(Start, 1, 18, 18, 18), new RollUp(young.At, 1, 17, 17, 17)], await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Hour));
    }

    [SkippableFact]
    public async Task A_sample_older_than_the_deleted_ones_is_added_to_their_roll_up()
    {
        await using var store = Make(new StoreOptions { KeepSamplesDays = 2 });
        await store.AppendAsync(Batch("bay1", [new(Channel.TubeCurrent, Start, 18)]), default);
        await store.MaintainAsync(Start + TimeSpan.FromDays(3), default);

        await store.AppendAsync(Batch("bay1", [new(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(1), 20)]), default);
        Assert.Equal([new RollUp(Start, 2, 18, 19, 20)], await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Minute));

        await store.MaintainAsync(Start + TimeSpan.FromDays(3), default);
        Assert.Equal(DeletesByAge ? [] : [18.0, 20.0], (await ReadAsync(store, "bay1")).Select(sample => sample.Value));
        Assert.Equal([new RollUp(Start, 2, 18, 19, 20)], await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Minute));
        Assert.Equal([new RollUp(Start, 2, 18, 19, 20)], await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Hour));
    }

    [SkippableFact]
    public async Task Events_are_deleted_by_age_but_never_the_newest_state_of_an_alarm_or_of_a_serviced_part()
    {
        await using var store = Make(new StoreOptions { KeepAlarmsDays = 10, KeepJobRunsDays = 10, KeepServiceDays = 10, KeepGapsDays = 10 });
        AlarmChange Alarm(int day, string condition) => new(
            Start + TimeSpan.FromDays(day), "bay1", condition, AlarmState.Unacknowledged, AlarmPriority.High, 1, 2, "kPa", null, "m", [], []);
        ServiceEvent Service(int day, string part) => new("bay1", Start + TimeSpan.FromDays(day), part, "replaced", null, null, ServiceEvent.NoDetails);
        JobEvent Run(int day) => new("bay1", Start + TimeSpan.FromDays(day), JobEventKind.Start, null);
        Gap Lost(int day) => new("bay1", Start + TimeSpan.FromDays(day), Start + TimeSpan.FromDays(day), "r", 0);
        var batch = new StoreBatch();
        batch.AlarmChanges.AddRange([Alarm(0, "coolant-hot"), Alarm(0, "coolant-hot"), Alarm(1, "tube-life"), Alarm(15, "tube-life")]);
        batch.ServiceEvents.AddRange([Service(0, "tube"), Service(1, "tube"), Service(15, "lens")]);
        batch.JobRuns.AddRange([Run(0), Run(15)]);
        batch.Gaps.AddRange([Lost(0), Lost(15)]);
        await store.AppendAsync(batch, default);

        var done = await store.MaintainAsync(Start + TimeSpan.FromDays(20), default);

        var rest = DeletesByAge ? new StoreBatch() : batch;
        if (DeletesByAge)
        {
            rest.AlarmChanges.AddRange([Alarm(0, "coolant-hot"), Alarm(15, "tube-life")]);
            rest.ServiceEvents.AddRange([Service(1, "tube"), Service(15, "lens")]);
            rest.JobRuns.Add(Run(15));
        }

        Assert.Equal(DeletesByAge ? 5 : 1, done.DeletedEvents);
        AssertEqual(rest.AlarmChanges, await store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal(
            rest.ServiceEvents.Select(service => service.At),
            (await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default)).Select(service => service.At));
        Assert.Equal(rest.JobRuns, await store.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal([Lost(15)], await store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
    }

    [SkippableFact]
    public async Task Writing_reading_and_upkeep_go_on_side_by_side()
    {
        await using var store = Make(new StoreOptions { KeepSamplesDays = 1 });
        var writing = Task.Run(async () =>
        {
            for (var i = 0; i < 200; i++)
                await store.AppendAsync(Batch("bay1", [new(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(30 * i), i)]), default);
        });
        var keeping = Task.Run(async () =>
        {
            while (!writing.IsCompleted)
                await store.MaintainAsync(Start + TimeSpan.FromHours(25), default);
        });
        long seen = 0;
        while (!writing.IsCompleted)
        {
            var count = (await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Hour)).Sum(rollUp => rollUp.Count);
            Assert.InRange(count, seen, 200);
            seen = count;
        }

        await Task.WhenAll(writing, keeping);

        Assert.Equal(200, (await RollUpsAsync(store, Channel.TubeCurrent, RollUpSpan.Minute)).Sum(rollUp => rollUp.Count));
    }

    protected static StoreBatch Batch(string machine, params Sample[] samples)
    {
        var batch = new StoreBatch();
        batch.Samples.AddRange(samples.Select(sample => (machine, sample)));
        return batch;
    }

    protected async Task<List<Sample>> ReadAsync(
        ITelemetryStore store, string machine, IReadOnlyCollection<Channel>? channels = null, Instant? from = null, Instant? to = null) =>
        await store.ReadSamplesAsync(machine, channels, from ?? Instant.MinValue, to ?? Instant.MaxValue, _table, default).ToListAsync();

    private static async Task<List<RollUp>> RollUpsAsync(ITelemetryStore store, Channel channel, RollUpSpan span) =>
        await store.ReadRollUpsAsync("bay1", channel, span, Instant.MinValue, Instant.MaxValue, default).ToListAsync();

    private static IEnumerable<RollUp> PlainRollUps(IEnumerable<Sample> samples, long width) =>
        samples.GroupBy(s => (long)Math.Floor((decimal)s.At.UnixNanoseconds / width)).OrderBy(group => group.Key)
            .Select(group => new RollUp(new Instant(group.Key * width), group.Count(), group.Min(s => s.Value), group.Average(s => s.Value), group.Max(s => s.Value)));

    private static void AssertClose(IEnumerable<RollUp> expected, IReadOnlyList<RollUp> actual)
    {
        var wanted = expected.ToList();
        Assert.Equal(wanted.Select(r => r with { Mean = 0 }), actual.Select(r => r with { Mean = 0 }));
        Assert.All(wanted.Zip(actual), pair => Assert.Equal(pair.First.Mean, pair.Second.Mean, 1e-9));
    }

    private static void AssertEqual(IEnumerable<AlarmChange> expected, IReadOnlyList<AlarmChange> actual)
    {
        var wanted = expected.ToList();
        Assert.Equal(wanted.Select(Bare), actual.Select(Bare));
        Assert.Equal(wanted.Select(change => change.Evidence), actual.Select(change => change.Evidence));
        Assert.Equal(wanted.Select(change => change.Checks), actual.Select(change => change.Checks));

        // Lists within a record are compared by reference.
        static AlarmChange Bare(AlarmChange change) => change with { Evidence = [], Checks = [] };
    }
}
