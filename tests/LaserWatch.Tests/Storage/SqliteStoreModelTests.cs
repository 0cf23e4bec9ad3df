using CsCheck;
using LaserWatch.Fakes;
using LaserWatch.History;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>The packed store against the plain one, which keeps lists.</summary>
public sealed class SqliteStoreModelTests : IDisposable
{
    private const long Second = 1_000_000_000;
    private const long Hour = 3600 * Second;

    private static readonly Channel[] Channels = [Channel.TubeCurrent, Channel.Power, Channel.CoolantIn];

    // Few enough hours that appends meet packed ones, about the epoch where their numbers change sign, and the ends of time.
    private static readonly Gen<long> Begin = Gen.OneOf(
        Gen.Long[-3, 4].Select(hour => hour * Hour), Gen.Long[-5 * Hour, 5 * Hour], Gen.Long[-60, -50].Select(hour => hour * Hour),
        Gen.OneOf(Gen.Const(long.MinValue), Gen.Const(long.MaxValue - 1)));

    private static readonly Gen<double> Value = Gen.OneOf(
        Gen.Int[-300, 3000].Select(tenths => tenths / 10.0), Gen.Int[0, 1].Select(bit => (double)bit), Gen.Double[-1e3, 1e3],
        Gen.Int[0, 50].Select(count => count * 0.0317), Gen.OneOf(Gen.Const(-0.0), Gen.Const(double.Epsilon), Gen.Const(-1e300), Gen.Const(4e15), Gen.Const(9007199254740993e3)));

    /// <summary>Samples as sensors send them: regular, with jitter or at random; some values wild.</summary>
    private static readonly Gen<Sample[]> Burst =
        from begin in Begin
        from count in Gen.Int[1, 400]
        from step in Gen.OneOf([Second, 500_000_000L, 60 * Second, 1L, 37_000_001L])
        from jitter in Gen.OneOf(Gen.Const(0L), Gen.Long[0, 30_000_000])
        from channels in Gen.Int[1, 7]
        from values in Value.Array[1, 12]
        from seed in Gen.Int
        select Make(begin, count, step, jitter, channels, values, new Random(seed));

    private static readonly Gen<Step> Steps = Gen.Frequency(
        (5, Burst.Select(samples => new Step(samples, null, false))),
        (2, Gen.Long[-80, 100].Select(hour => new Step(null, new Instant(hour * Hour), false))),
        (1, Gen.Const(new Step(null, null, true))));

    private readonly TemporaryFolder _folder = new();
    private int _files;

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Whatever_is_packed_and_deleted_in_between_all_reads_are_those_of_the_plain_store()
    {
        var queries = Gen.Select(Begin, Begin, Gen.Int[1, 7]).Array[3];
        await Gen.Select(Steps.Array[1, 12], queries).SampleAsync(
            async (steps, asked) =>
            {
                var options = new StoreOptions { Path = _folder.File($"{++_files}.db"), KeepSamplesDays = 2 };
                var plain = new InMemoryTelemetryStore(options);
                var store = SqliteTelemetryStore.Open(options);
                foreach (var step in steps)
                {
                    if (step.Reopen)
                    {
                        await store.DisposeAsync();
                        store = SqliteTelemetryStore.Open(options);
                    }

                    if (step.Samples is { } samples)
                    {
                        var batch = new StoreBatch();
                        batch.Samples.AddRange(samples.Select(sample => ("bay1", sample)));
                        await plain.AppendAsync(batch, default);
                        await store.AppendAsync(batch, default);
                    }

                    if (step.Now is { } now)
                        Assert.Equal((await plain.MaintainAsync(now, default)).DeletedSamples, (await store.MaintainAsync(now, default)).DeletedSamples);
                }

                await AssertEqualAsync(plain, store, Instant.MinValue, Instant.MaxValue, Channels);
                foreach (var (from, to, channels) in asked)
                    await AssertEqualAsync(plain, store, new Instant(from), new Instant(to), Chosen(channels));
                await store.DisposeAsync();
                AssertNothingIsLeftOver(options.Path);
                File.Delete(options.Path);
            },
            iter: Rounds.Of(40), threads: 1);
    }

    [Fact]
    public async Task A_sensor_that_falls_silent_within_the_hour_takes_none_of_the_others_with_it()
    {
        var options = new StoreOptions { Path = _folder.File("silent.db") };
        var plain = new InMemoryTelemetryStore(options);
        await using var store = SqliteTelemetryStore.Open(options);
        var batch = new StoreBatch();
        for (var second = 0; second < 3000; second++)
        {
            var at = new Instant(second * Second);
            if (second < 10) // with times of its own
                batch.Samples.Add(("bay1", new Sample(Channels[0], new Instant(at.UnixNanoseconds + 1), second)));
            foreach (var channel in Channels[1..])
                batch.Samples.Add(("bay1", new Sample(channel, at, -second)));
        }

        await plain.AppendAsync(batch, default);
        await store.AppendAsync(batch, default);

        await AssertEqualAsync(plain, store, Instant.MinValue, Instant.MaxValue, Channels);
    }

    /// <summary>All that is read of a machine is the same in both.</summary>
    internal static async Task AssertEqualAsync(ITelemetryStore plain, ITelemetryStore store, Instant from, Instant to, Channel[] channels, string machine = "bay1")
    {
        var table = new ChannelTable();
        var expected = await plain.ReadSamplesAsync(machine, channels, from, to, table, default).ToListAsync();
        var actual = await store.ReadSamplesAsync(machine, channels, from, to, table, default).ToListAsync();
        Assert.Equal(expected.Select(Bits), actual.Select(Bits));
        var stretches = new List<Sample>();
        await foreach (var stretch in store.ReadStretchesAsync(machine, channels, from, to, table, default))
        {
            var some = stretch.Singly.IsEmpty ? MomentTable.ToSamples(stretch.Together) : [.. stretch.Singly.Span];
            Assert.Equal(some.Count, stretch.Samples);
            stretches.AddRange(some);
        }

        Assert.Equal(expected.Select(Bits), stretches.Select(Bits));
        Assert.Equal(await plain.ReadExtentAsync(machine, default), await store.ReadExtentAsync(machine, default));
        Assert.Equal(await plain.ReadIgnoredAsync(machine, default), await store.ReadIgnoredAsync(machine, default));
        foreach (var channel in channels)
        {
            foreach (var span in new[] { RollUpSpan.Minute, RollUpSpan.Hour })
            {
                AssertClose(
                    await plain.ReadRollUpsAsync(machine, channel, span, from, to, default).ToListAsync(),
                    await store.ReadRollUpsAsync(machine, channel, span, from, to, default).ToListAsync());
            }
        }

        // −0 comes back as 0.
        static (string Channel, long At, long Bits) Bits(Sample sample) =>
            (sample.Channel.Name, sample.At.UnixNanoseconds, BitConverter.DoubleToInt64Bits(sample.Value + 0.0));
    }

    /// <summary>The file has no block that nothing refers to.</summary>
    internal static void AssertNothingIsLeftOver(string path)
    {
        using var connection = StoreFile.OpenForReading(path, 1);
        using var orphans = new Statement(connection, """
            SELECT (SELECT count(*) FROM sealed_time WHERE id NOT IN (SELECT time_id FROM sealed_hour))
                + (SELECT count(*) FROM sealed_value) - (SELECT count(*) FROM sealed_hour)
            """);
        Assert.Equal(0, orphans.RunForInt64());
    }

    private static void AssertClose(List<RollUp> expected, List<RollUp> actual)
    {
        Assert.Equal(expected.Select(Plain), actual.Select(Plain));
        Assert.All(expected.Zip(actual), pair =>
            Assert.Equal(0, (pair.First.Mean - pair.Second.Mean) / Math.Max(1e-300, Math.Max(Math.Abs(pair.First.Min), Math.Abs(pair.First.Max))), 1e-9));

        static RollUp Plain(RollUp rollUp) => rollUp with { Mean = 0, Min = rollUp.Min + 0.0, Max = rollUp.Max + 0.0 };
    }

    private static Sample[] Make(long begin, int count, long step, long jitter, int channels, double[] values, Random random)
    {
        var samples = new List<Sample>();
        var at = (Int128)begin;
        for (var i = 0; i < count; i++, at += step)
        {
            foreach (var channel in Chosen(channels))
            {
                var time = at + (jitter > 0 ? random.NextInt64(jitter) : 0);
                if (time < long.MaxValue && random.Next(50) > 0)
                    samples.Add(new Sample(channel, new Instant((long)time), values[random.Next(values.Length)]));
            }
        }

        return [.. samples];
    }

    private static Channel[] Chosen(int bits) => [.. Channels.Where((_, i) => (bits & (1 << i)) != 0)];

    private sealed record Step(Sample[]? Samples, Instant? Now, bool Reopen)
    {
        public override string ToString() => Samples is { } samples ? $"{samples.Length} samples from {samples.FirstOrDefault().At.UnixNanoseconds}" : Now is { } now ? $"maintain at {now}" : "reopen";
    }
}
