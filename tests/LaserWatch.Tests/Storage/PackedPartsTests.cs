using CsCheck;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

/// <summary>What is kept of packed hours against the whole hours, with so little room that parts are short and their places run out.</summary>
public sealed class PackedPartsTests : IDisposable
{
    private const int SeriesCount = 10;
    private const int HourCount = 4;
    private const int MostSamples = 128;
    private const int MostLength = 64;
    private const int DamagedHour = 1;
    private const int DamagedSeries = 2;
    private const long Second = 1_000_000_000;

    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly long FirstHour = TimeGrid.HourOf(Start);

    private static readonly Gen<Step> Steps = Gen.Frequency(
        (20, Gen.Select(Gen.Int[0, SeriesCount - 1], Gen.Int[0, HourCount - 1], Gen.Int[0, 3599], Gen.Int[0, 400]).Select((series, hour, from, seconds) => new Step(Do.Look, series, hour, from, seconds))),
        (8, Gen.Select(Gen.Int[0, SeriesCount - 1], Gen.Int[1, 40]).Select((series, seconds) => new Step(Do.GoOn, series, 0, 0, seconds))),
        (8, Gen.Select(Gen.Int[0, SeriesCount - 1], Gen.Int[1, 40]).Select((series, seconds) => new Step(Do.GoBack, series, 0, 0, seconds))),
        (2, Gen.Int[0, SeriesCount - 1].Select(series => new Step(Do.Return, series, 0, 0, 0))),
        (1, Gen.Const(new Step(Do.Forget, 0, 0, 0, 0))),
        (2, Gen.Const(new Step(Do.Rest, 0, 0, 0, 0))));

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Whatever_is_looked_for_is_answered_as_from_the_whole_hour()
    {
        var samples = await FillAsync();
        using var connection = StoreFile.OpenForWriting(_folder.File("store.db"), 1);
        using var hours = new SealedHours(connection);
        Steps.Array[1, 300].Sample(steps =>
        {
            var parts = new PackedParts(hours, MostSamples, MostLength);
            var kept = new PackedParts.Place[SeriesCount];
            var cursors = new long[SeriesCount];
            Array.Fill(cursors, HourCount / 2 * 3600L);
            foreach (var step in steps)
            {
                switch (step.What)
                {
                    case Do.Look:
                        cursors[step.Series] = (step.Hour * 3600L) + step.From;
                        Look(step.Series, cursors[step.Series], Math.Min(cursors[step.Series] + step.Seconds, (step.Hour * 3600L) + 3599));
                        break;
                    case Do.GoOn:
                        cursors[step.Series] = Math.Min(cursors[step.Series] + step.Seconds, (HourCount * 3600L) - 1);
                        Look(step.Series, cursors[step.Series], cursors[step.Series]);
                        break;
                    case Do.GoBack:
                        cursors[step.Series] = Math.Max(cursors[step.Series] - step.Seconds, 0);
                        Look(step.Series, cursors[step.Series], cursors[step.Series]);
                        break;
                    case Do.Return:
                        parts.Return(ref kept[step.Series]);
                        break;
                    case Do.Forget:
                        parts.Forget();
                        break;
                    case Do.Rest:
                        parts.Rest();
                        break;
                    default:
                        throw new InvalidOperationException($"Nobody can {step.What}.");
                }
            }

            void Look(int series, long from, long to)
            {
                hours.Begin();
                var part = parts.Find(ref kept[series], series + 1, FirstHour + (from / 3600), At(from), At(to));
                for (var half = 2 * from; half <= 2 * to; half++)
                {
                    var at = Start.UnixNanoseconds + (half * (Second / 2));
                    Assert.Equal(samples.TryGetValue((series, at), out var value), part.TryFind(at, out var found));
                    Assert.Equal(value, found);
                }
            }
        }, iter: Rounds.Of(100), threads: 1);
    }

    [Fact]
    public async Task Late_samples_in_time_order_unpack_an_hour_once_and_not_at_every_look()
    {
        await FillAsync();
        using var connection = StoreFile.OpenForWriting(_folder.File("store.db"), 1);
        using var hours = new SealedHours(connection);
        var parts = new PackedParts(hours, MostSamples, MostLength);
        var kept = default(PackedParts.Place);
        hours.Begin();
        parts.Find(ref kept, 1, FirstHour, At(0), At(0));

        // What is kept answers where the file has nothing any more.
        Schema.Execute(connection, "DELETE FROM sealed_value");
        hours.Begin();

        var found = 0;
        for (var second = 1; second <= 60; second++)
            found += parts.Find(ref kept, 1, FirstHour, At(second), At(second)).TryFind(At(second), out _) ? 1 : 0;
        Assert.Equal(20, found);
        parts.Return(ref kept);
        Assert.False(parts.Find(ref kept, 1, FirstHour, At(3), At(3)).TryFind(At(3), out _));
    }

    private static long At(long second) => Start.UnixNanoseconds + (second * Second);

    /// <summary>Series with a few or many samples an hour, some hours with none, and one hour that is damaged.</summary>
    private async Task<Dictionary<(int Series, long At), double>> FillAsync()
    {
        var channels = new ChannelTable().All.Take(SeriesCount).ToArray();
        var samples = new Dictionary<(int, long), double>();
        var batch = new StoreBatch();
        for (var second = 0; second < HourCount * 3600; second++)
        {
            for (var series = 0; series < SeriesCount; series++)
            {
                var hour = second / 3600;
                var every = 3 << (series % 5 * 2);
                if (second % every != 0 || (series + hour) % 5 == 4)
                    continue;
                batch.Samples.Add(("bay1", new Sample(channels[series], new Instant(At(second)), second % 97)));
                if ((series, hour) != (DamagedSeries, DamagedHour))
                    samples.Add((series, At(second)), second % 97);
            }
        }

        // The first commit numbers the series in the order in which they come.
        var first = new StoreBatch();
        for (var series = 0; series < SeriesCount; series++)
        {
            first.Samples.Add(("bay1", new Sample(channels[series], new Instant(At(-3600)), 0)));
        }

        var path = _folder.File("store.db");
        await using (var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path }))
        {
            await store.AppendAsync(first, default);
            await store.AppendAsync(batch, default);
            await store.MaintainAsync(Start + TimeSpan.FromHours(HourCount + 1), default);
        }

        using var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        using var damage = connection.CreateCommand();
        damage.CommandText = $"UPDATE sealed_value SET block = zeroblob(length(block)) WHERE id = {BlockKey.Of(DamagedSeries + 1, FirstHour + DamagedHour)}";
        Assert.Equal(1, damage.ExecuteNonQuery());
        return samples;
    }

    private enum Do
    {
        Look,
        GoOn,
        GoBack,
        Return,
        Forget,
        Rest,
    }

    private sealed record Step(Do What, int Series, int Hour, int From, int Seconds);
}
