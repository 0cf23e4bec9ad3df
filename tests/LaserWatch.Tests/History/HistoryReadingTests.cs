using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

public sealed class HistoryReadingTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Events_come_before_the_samples_of_their_instant_and_ends_before_starts()
    {
        await using var store = new InMemoryTelemetryStore();
        var batch = new StoreBatch();
        var at = TubeShop.FirstDay;
        for (var second = 0; second < 4; second++)
            batch.Samples.Add(("bay1", new Sample(Channel.Power, at + TimeSpan.FromSeconds(second), second)));
        batch.JobRuns.Add(new JobEvent("bay1", at + TimeSpan.FromSeconds(2), JobEventKind.Start, "birch-6-cut", Inferred: true));
        batch.JobRuns.Add(new JobEvent("bay1", at + TimeSpan.FromSeconds(2), JobEventKind.Start, null, Inferred: true));
        batch.JobRuns.Add(new JobEvent("bay1", at + TimeSpan.FromSeconds(2), JobEventKind.End, "felt", Inferred: true));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", at + TimeSpan.FromSeconds(2), "tube", "replaced", null, null, ServiceEvent.NoDetails));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", at - TimeSpan.FromDays(900), "lens", "cleaned", null, null, ServiceEvent.NoDetails));
        batch.JobRuns.Add(new JobEvent("bay1", at + TimeSpan.FromSeconds(9), JobEventKind.End, null));
        await store.AppendAsync(batch, CancellationToken.None);
        var heard = new Heard(Channel.Power);

        var count = await new HistoryReading(store, new ChannelTable()).RunAsync("bay1", Instant.MinValue, Instant.MaxValue, [heard], CancellationToken.None);

        Assert.Equal(4, count);
        Assert.Equal(
            [$"begin {at} runs True", "lens", "0", "1", "tube", "End felt", "Start ", "Start birch-6-cut", "2", "3", "End ", "end"], heard.All);
    }

    [Fact]
    public async Task A_run_from_before_the_span_is_told_and_older_ones_are_not()
    {
        await using var store = new InMemoryTelemetryStore();
        var batch = new StoreBatch();
        var at = TubeShop.FirstDay;
        batch.Samples.Add(("bay1", new Sample(Channel.Power, at, 1)));
        batch.JobRuns.Add(new JobEvent("bay1", at - TimeSpan.FromHours(30), JobEventKind.Start, "old"));
        batch.JobRuns.Add(new JobEvent("bay1", at - TimeSpan.FromHours(2), JobEventKind.Start, "under-way"));
        await store.AppendAsync(batch, CancellationToken.None);
        var heard = new Heard(Channel.Power);

        await new HistoryReading(store, new ChannelTable()).RunAsync("bay1", at, Instant.MaxValue, [heard], CancellationToken.None);

        Assert.Equal([$"begin {at} runs True", "Start under-way", "1", "end"], heard.All);
    }

    [Fact]
    public async Task Only_the_channels_that_somebody_wants_are_read_and_a_machine_without_samples_has_none()
    {
        await using var store = new InMemoryTelemetryStore();
        await store.AppendAsync(new TubeShop().Work(0, 1, _ => 1).Batch(), CancellationToken.None);
        var (power, nothing) = (new Heard(Channel.Power), new Heard());

        var count = await new HistoryReading(store, new ChannelTable()).RunAsync(TubeShop.Machine, Instant.MinValue, Instant.MaxValue, [power, nothing], CancellationToken.None);

        Assert.Equal(720, count);
        Assert.Equal(power.All, nothing.All); // one walk: both hear what either wants
        Assert.Equal(0, await new HistoryReading(store, new ChannelTable()).RunAsync("bay9", Instant.MinValue, Instant.MaxValue, [new Heard(Channel.Power)], CancellationToken.None));
    }

    [Fact]
    public async Task Two_stores_with_the_same_recording_give_the_same_trends()
    {
        var batch = new TubeShop().Serve(0, "tube", "installed", "T-000001").Work(0, 40, day => 1 - (0.001 * day)).Batch();
        await using var memory = new InMemoryTelemetryStore();
        await memory.AppendAsync(batch, CancellationToken.None);
        await using var sqlite = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.File("laserwatch.db"), KeepSamplesDays = 36_500 });
        await sqlite.AppendAsync(batch, CancellationToken.None);
        await sqlite.MaintainAsync(TubeShop.Morning(41), CancellationToken.None); // so that most of it is packed

        foreach (var question in (TrendQuestion[])
        [
            new("bay1", "tube_current", null, Instant.MinValue, Instant.MaxValue), new("bay1", "tube_current", 66, TubeShop.Morning(7), TubeShop.Morning(30)),
            new("bay1", "coolant_in", null, Instant.MinValue, Instant.MaxValue),
        ])
        {
            var (one, other) = (await TrendOf(memory, question), await TrendOf(sqlite, question));
            Assert.NotEmpty(one);
            Assert.Equal(one, other);
        }
    }

    [Fact]
    public async Task Channels_read_together_come_as_moments_and_those_that_are_not_come_singly()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.File("laserwatch.db"), KeepSamplesDays = 36_500 });
        Channel[] channels = [.. Channel.Canonical.Take(8)];
        var batch = new StoreBatch();
        for (var second = 0; second < 3 * 3600; second++)
        {
            var at = TubeShop.FirstDay + TimeSpan.FromSeconds(second);
            foreach (var channel in channels)
            {
                // The first hour all together, the second one half a fifth as often, in the third each on its own.
                if (second / 3600 != 1 || channel.Index < 4 || second % 5 == 0)
                    batch.Samples.Add(("bay1", new Sample(channel, second < 7200 ? at : at + TimeSpan.FromMilliseconds(channel.Index), second + channel.Index)));
            }
        }

        await store.AppendAsync(batch, CancellationToken.None);
        foreach (var sealedToo in new[] { false, true })
        {
            if (sealedToo)
                await store.MaintainAsync(TubeShop.Morning(1), CancellationToken.None);
            var (hours, samples) = (new (int Together, int Singly)[3], new List<Sample>());
            await foreach (var stretch in store.ReadStretchesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), CancellationToken.None))
            {
                var some = stretch.Singly.IsEmpty ? MomentTable.ToSamples(stretch.Together) : [.. stretch.Singly.Span];
                ref var hour = ref hours[(int)(some[0].At - TubeShop.FirstDay).TotalHours];
                hour = stretch.Singly.IsEmpty ? (hour.Together + some.Count, hour.Singly) : (hour.Together, hour.Singly + some.Count);
                samples.AddRange(some);
            }

            Assert.Equal([(8 * 3600, 0), ((4 * 3600) + (4 * 720), 0), (0, 8 * 3600)], hours);
            Assert.Equal(batch.Samples.Select(kept => kept.Sample), samples);
        }
    }

    private static async Task<string> TrendOf(ITelemetryStore store, TrendQuestion question)
    {
        var answer = await new TrendSource(store, Configuration.LaserWatchOptions.Default).GatherAsync(question, CancellationToken.None);
        Assert.Null(answer.Lack);
        var text = new StringWriter();
        Cli.TrendJson.Print(answer.Trends, text);
        return text.ToString();
    }

    private sealed class Heard(params Channel[] channels) : IHistoryListener
    {
        public List<string> All { get; } = [];

        public IReadOnlyCollection<Channel> Channels => channels;

        public void Begin(HistorySpan span) => All.Add($"begin {span.From} runs {span.RunsAreKnown}");

        public void Take(ReadOnlySpan<Sample> samples)
        {
            foreach (var sample in samples)
                All.Add(sample.Value.ToString(System.Globalization.CultureInfo.InvariantCulture));
        }

        public void Take(in Moments moments) => Take(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(MomentTable.ToSamples(moments)));

        public void Take(JobEvent run) => All.Add($"{run.Kind} {run.Job}");

        public void Take(ServiceEvent service) => All.Add(service.Part);

        public void End() => All.Add("end");
    }
}
