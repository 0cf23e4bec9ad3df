using CsCheck;
using LaserWatch.Fakes;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>A shop of many machines in the store against the plain one: sealed and read at any moment between commits.</summary>
public sealed class ManyMachinesModelTests : IDisposable
{
    private const long Second = 1_000_000_000;
    private const long Hour = 3600 * Second;

    private static readonly Channel[] Channels = [Channel.TubeCurrent, Channel.Power, Channel.CoolantIn];

    private static readonly Gen<Step> Steps = Gen.Frequency(
        (12, Gen.Select(Gen.Int, Gen.Int[1, 30], Gen.OneOf([1.0, 0.6, 0.05])).Select((seed, seconds, share) => new Step(Do.Append, seed, seconds, share))),
        (2, Gen.Select(Gen.Int, Gen.Int[1, 5]).Select((seed, seconds) => new Step(Do.AppendByAnother, seed, seconds, 0.5))),
        (4, Gen.Select(Gen.Int, Gen.Int[1, 30], Gen.OneOf([1.0, 0.3])).Select((seed, seconds, share) => new Step(Do.FillUp, seed, seconds, share))),
        (2, Gen.Int[0, 5000].Select(seconds => new Step(Do.Rest, 0, seconds, 0))),
        (2, Gen.Const(new Step(Do.Maintain, 0, 0, 0))),
        (1, Gen.Const(new Step(Do.Reopen, 0, 0, 0))),
        (1, Gen.Const(new Step(Do.Abandon, 0, 0, 0))),
        (2, Gen.Int.Select(seed => new Step(Do.Look, seed, 0, 0))));

    private readonly TemporaryFolder _folder = new();
    private int _files;

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(1, 15)]
    [InlineData(9, 12)]
    [InlineData(50, 4)]
    public async Task Whatever_commits_bring_of_many_machines_all_reads_are_those_of_the_plain_store(int machines, int iterations) =>
        await Steps.Array[1, 60].SampleAsync(
            async steps =>
            {
                var options = new StoreOptions { Path = _folder.File($"{++_files}.db"), KeepSamplesDays = 1 };
                await using (var shop = new Shop(options, machines))
                {
                    foreach (var step in steps)
                        await shop.TakeAsync(step);
                    for (var machine = 0; machine < machines; machine++)
                        await shop.AssertEqualAsync(machine);
                }

                SqliteStoreModelTests.AssertNothingIsLeftOver(options.Path);
                File.Delete(options.Path);
            },
            iter: Rounds.Of(iterations), threads: 1);

    private enum Do
    {
        Append,
        AppendByAnother,
        FillUp,
        Rest,
        Maintain,
        Reopen,
        Abandon,
        Look,
    }

    private sealed record Step(Do What, int Seed, int Seconds, double Share);

    private sealed class Shop(StoreOptions options, int machines) : IAsyncDisposable
    {
        private readonly InMemoryTelemetryStore _plain = new(options);
        private readonly List<SqliteTelemetryStore> _abandoned = [];
        private readonly long[] _clocks = [.. Enumerable.Range(0, machines).Select(i => (2 * Hour) - (90 * Second) - (i % 7 * 40 * Second))];
        private SqliteTelemetryStore _store = SqliteTelemetryStore.Open(options);
        private long _rested;

        public async Task TakeAsync(Step step)
        {
            switch (step.What)
            {
                case Do.Append:
                    await AppendAsync(_store, MakeBatch(step));
                    break;
                case Do.AppendByAnother:
                    await using (var another = SqliteTelemetryStore.Open(options))
                        await AppendAsync(another, MakeBatch(step));
                    break;
                case Do.FillUp:
                    await AppendAsync(_store, MakeLateBatch(step));
                    break;
                case Do.Rest:
                    _rested += step.Seconds * Second;
                    break;
                case Do.Maintain:
                    var now = new Instant(_clocks.Max() + _rested + (660 * Second));
                    Assert.Equal((await _plain.MaintainAsync(now, default)).DeletedSamples, (await _store.MaintainAsync(now, default)).DeletedSamples);
                    break;
                case Do.Reopen:
                    await _store.DisposeAsync();
                    _store = SqliteTelemetryStore.Open(options);
                    break;
                case Do.Abandon:
                    // As one that was killed: another goes on with what is in the file.
                    _abandoned.Add(_store);
                    _store = SqliteTelemetryStore.Open(options);
                    break;
                case Do.Look:
                    await AssertEqualAsync(new Random(step.Seed).Next(machines));
                    break;
                default:
                    throw new InvalidOperationException($"Nobody can {step.What}.");
            }
        }

        public async Task AssertEqualAsync(int machine)
        {
            await SqliteStoreModelTests.AssertEqualAsync(_plain, _store, Instant.MinValue, Instant.MaxValue, Channels, Name(machine));
            var middle = new Instant(_clocks[machine] + _rested - (20 * Second));
            await SqliteStoreModelTests.AssertEqualAsync(_plain, _store, middle, Instant.MaxValue, [Channels[1]], Name(machine));
        }

        public async ValueTask DisposeAsync()
        {
            await _plain.DisposeAsync();
            await _store.DisposeAsync();
            foreach (var store in _abandoned)
                await store.DisposeAsync();
        }

        private async Task AppendAsync(SqliteTelemetryStore store, StoreBatch batch)
        {
            await _plain.AppendAsync(batch, default);
            await store.AppendAsync(batch, default);
        }

        /// <summary>Of a share of the machines some seconds that go on from the last, in any order of machines; now and then a sample anew, with another value, or between others.</summary>
        private StoreBatch MakeBatch(Step step)
        {
            var random = new Random(step.Seed);
            var batch = new StoreBatch();
            int[] order = [.. Enumerable.Range(0, machines)];
            if (random.Next(2) == 0)
                random.Shuffle(order);
            foreach (var machine in order)
            {
                if (random.NextDouble() > step.Share && machine != order[0])
                    continue;
                for (var second = random.Next(1, step.Seconds + 1); second > 0; second--)
                {
                    _clocks[machine] += random.Next(200) == 0 ? 1500 * Second : Second;
                    foreach (var channel in Channels)
                    {
                        if (random.Next(12) > 0)
                            Add(machine, channel, random.Next(40) switch { 0 => -Second, 1 => -3 * Second, 2 => -Hour, 3 => -Second / 2, _ => 0 });
                    }
                }
            }

            return batch;

            void Add(int machine, Channel channel, long late)
            {
                var at = _clocks[machine] + _rested + late;
                batch.Samples.Add((Name(machine), new Sample(channel, new Instant(at), (at / (Second / 2) % 97 / 10.0) + (random.Next(60) == 0 ? 1 : 0))));
            }
        }

        /// <summary>Of a share of the machines some seconds of the past, forwards or backwards, as they were or with what was missing.</summary>
        private StoreBatch MakeLateBatch(Step step)
        {
            var random = new Random(step.Seed);
            var batch = new StoreBatch();
            var back = random.Next(3) * Hour / 2;
            var direction = random.Next(3) == 0 ? -1 : 1;
            for (var second = 0; second < step.Seconds; second++)
            {
                for (var machine = 0; machine < machines; machine++)
                {
                    if (machine % 10 >= step.Share * 10)
                        continue;
                    var at = _clocks[machine] + _rested - back - (30 * Second) + (direction * second * Second) - (random.Next(2) * Second / 4);
                    foreach (var channel in Channels)
                        batch.Samples.Add((Name(machine), new Sample(channel, new Instant(at), at / (Second / 2) % 97 / 10.0)));
                }
            }

            return batch;
        }

        private static string Name(int machine) => $"bay{machine}";
    }
}
