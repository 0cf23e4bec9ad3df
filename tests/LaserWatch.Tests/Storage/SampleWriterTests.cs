using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Storage;

public sealed class SampleWriterTests : IAsyncDisposable
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly SampleWriterOptions Small = new() { Capacity = 1000, BatchItems = 1_000_000, BatchAcknowledgements = 65_535 };

    private readonly FaultyTelemetryStore _store = new();
    private readonly FakeTimeProvider _time = new();
    private readonly CollectingLogger<SampleWriter> _log = new();
    private readonly CancellationTokenSource _patience = new(TimeSpan.FromSeconds(30));
    private SampleWriter? _writer;

    public async ValueTask DisposeAsync()
    {
        if (_writer is not null)
            await _writer.DisposeAsync();
        await _store.DisposeAsync();
        _patience.Dispose();
    }

    [Fact]
    public async Task The_first_item_is_committed_at_once_and_acknowledged_after_the_commit()
    {
        var writer = Make(new SampleWriterOptions());
        var acknowledged = new TaskCompletionSource<int>();

        Assert.True(writer.TryEnqueue("bay1", At(0), () => acknowledged.SetResult(_store.BatchSizes.Count)));

        Assert.Equal(1, await acknowledged.Task.WaitAsync(_patience.Token)); // the clock stood still, and the batch was kept
        Assert.Equal([At(0)], await SamplesAsync());
    }

    [Fact]
    public async Task Items_that_come_within_the_spacing_are_committed_together_when_it_is_over()
    {
        var writer = Make(new SampleWriterOptions { CommitSpacingMs = 50, UnhurriedSpacingMs = 50 });
        writer.TryEnqueue("bay1", At(0));
        await writer.FlushAsync(_patience.Token);
        await _store.AttemptAsync();
        for (var i = 1; i <= 7; i++)
            writer.TryEnqueue("bay1", At(i));

        var committed = _store.AttemptAsync();
        while (!committed.IsCompleted)
        {
            // Whether the writer has begun to wait cannot be seen from here: let time pass until it has.
            _time.Advance(TimeSpan.FromMilliseconds(50));
            await Task.Yield();
        }

        await committed;
        await writer.FlushAsync(_patience.Token);
        Assert.Equal([1, 7], _store.BatchSizes);
    }

    [Fact]
    public async Task The_batch_grows_while_a_commit_runs()
    {
        var writer = Make(Small);
        _store.Hold();
        writer.TryEnqueue("bay1", At(0));
        await _store.AttemptAsync();
        for (var i = 1; i <= 500; i++)
            Assert.True(writer.TryEnqueue("bay1", At(i)));
        Assert.Equal(501, writer.Waiting);

        _store.Release();
        await writer.FlushAsync(_patience.Token);

        Assert.Equal([1, 500], _store.BatchSizes);
        Assert.Equal(0, writer.Waiting);
    }

    [Fact]
    public async Task Enough_waiting_acknowledgements_do_not_wait_for_the_spacing()
    {
        var writer = Make(new SampleWriterOptions { CommitSpacingMs = 10_000, BatchAcknowledgements = 3 });
        writer.TryEnqueue("bay1", At(0));
        await writer.FlushAsync(_patience.Token);
        var acknowledged = new CountdownEvent(3);

        for (var i = 1; i <= 3; i++)
            writer.TryEnqueue("bay1", At(i), () => acknowledged.Signal());

        Assert.True(acknowledged.Wait(TimeSpan.FromSeconds(30)));
        Assert.Equal([1, 3], _store.BatchSizes);
    }

    [Fact]
    public async Task What_one_message_gave_is_committed_in_one_transaction_with_its_delivery()
    {
        var writer = Make(Small);
        var delivery = new PacketDelivery("agent-1", 7, 42);
        var entry = new StoreBatch();
        entry.Samples.AddRange([("bay1", At(0)), ("bay1", At(1))]);
        entry.JobRuns.Add(new JobEvent("bay1", Start, JobEventKind.Start, "birch-6-cut"));
        entry.AlarmChanges.Add(Alarm);
        entry.WatchStates.Add(("bay1", [1]));
        entry.Deliveries.Add(delivery);

        Assert.True(writer.TryEnqueue(entry));
        entry.Clear(); // the writer has its own copy
        await writer.FlushAsync(_patience.Token);

        Assert.Equal([6], _store.BatchSizes);
        Assert.Equal([At(0), At(1)], await SamplesAsync());
        Assert.Single(await _store.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Single(await _store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal(new byte[] { 1 }, await _store.ReadWatchStateAsync("bay1", default));
        Assert.True(await _store.WasDeliveredAsync(delivery, default));
    }

    [Fact]
    public async Task A_delivery_is_known_again_while_it_waits_and_after_its_commit()
    {
        var writer = Make(Small);
        var delivery = new PacketDelivery("agent-1", 7, 42);
        var entry = new StoreBatch();
        entry.Deliveries.Add(delivery);
        _store.Hold();
        writer.TryEnqueue(entry);
        await _store.AttemptAsync();

        Assert.True(await writer.WasDeliveredAsync(delivery, default));
        Assert.False(await _store.WasDeliveredAsync(delivery, default));
        Assert.False(await writer.WasDeliveredAsync(delivery with { PacketId = 8 }, default));

        _store.Release();
        await writer.FlushAsync(_patience.Token);
        Assert.True(await writer.WasDeliveredAsync(delivery, default));
    }

    [Fact]
    public async Task A_failing_store_is_tried_again_without_loss_and_nothing_is_acknowledged_before()
    {
        var writer = Make(Small);
        var acknowledged = new List<int>();
        _store.Fault = new IOException("No space left on device");
        writer.TryEnqueue("bay1", At(0), () => acknowledged.Add(0));
        for (var attempt = 0; attempt < 4; attempt++)
            await AttemptAsync();
        writer.TryEnqueue("bay1", At(1), () => acknowledged.Add(1));
        Assert.Empty(acknowledged);
        Assert.True(writer.IsStoreFailing);

        _store.Fault = null;
        await LetTimePassUntilAsync(writer.FlushAsync(_patience.Token));

        Assert.Equal([0, 1], acknowledged);
        Assert.Equal([At(0), At(1)], await SamplesAsync());
        Assert.False(writer.IsStoreFailing);
        Assert.Equal([300, 301], _log.Ids); // once when it began, once when it ended
    }

    [Fact]
    public async Task What_a_full_queue_refuses_is_counted_and_stored_as_a_gap()
    {
        var writer = Make(Small);
        _store.Hold();
        writer.TryEnqueue("bay1", At(0));
        await _store.AttemptAsync();
        for (var i = 1; i <= 900; i++)
            Assert.True(writer.TryEnqueue("bay1", At(i)));

        Assert.False(writer.TryEnqueue("bay1", At(901)));
        Assert.False(writer.TryEnqueue("bay1", At(902)));
        Assert.False(writer.TryEnqueue("bay2", At(903), () => Assert.Fail("It was not kept."))); // the broker still has this one
        Assert.Equal(3, writer.RefusedItems);
        _store.Release();
        await writer.FlushAsync(_patience.Token);
        Assert.True(writer.TryEnqueue("bay1", At(904)));
        await writer.FlushAsync(_patience.Token);

        Assert.Equal([new Gap("bay1", At(901).At, At(902).At, "store queue full", 2)], await GapsAsync("bay1"));
        Assert.Equal([new Gap("bay2", At(903).At, At(903).At, "store queue full", 0)], await GapsAsync("bay2"));
        Assert.Equal(902, (await SamplesAsync()).Count);
        Assert.Equal([302, 303], _log.Ids);
    }

    [Fact]
    public async Task Alarms_still_enter_when_there_is_no_more_room_for_samples()
    {
        var writer = Make(Small);
        _store.Hold();
        writer.TryEnqueue("bay1", At(0));
        await _store.AttemptAsync();
        for (var i = 1; i <= 900; i++)
            Assert.True(writer.TryEnqueue("bay1", At(i)));
        var entry = new StoreBatch();
        entry.AlarmChanges.Add(Alarm);

        for (var i = 0; i < 100; i++)
            Assert.True(writer.TryEnqueue(entry));
        Assert.False(writer.TryEnqueue(entry));

        _store.Release();
        await writer.FlushAsync(_patience.Token);
        Assert.Equal(100, (await _store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default)).Count);
        Assert.Equal([new Gap("bay1", Alarm.Time, Alarm.Time, "store queue full", 0)], await GapsAsync("bay1"));
    }

    [Fact]
    public async Task A_batch_that_the_store_refuses_for_good_becomes_a_gap_and_holds_nothing_up()
    {
        var writer = Make(Small);
        _store.Fault = new ArgumentException("never");
        writer.TryEnqueue("bay1", At(0), () => Assert.Fail("It was not kept."));
        while (!_log.Ids.Contains(304))
        {
            _patience.Token.ThrowIfCancellationRequested();
            await Task.Yield();
        }

        _store.Fault = null;
        writer.TryEnqueue("bay1", At(1));
        await writer.FlushAsync(_patience.Token);

        Assert.Equal([At(1)], await SamplesAsync());
        var gap = Assert.Single(await GapsAsync("bay1"));
        Assert.Equal((At(0).At, "refused by the store", 1), (gap.From, gap.Reason, gap.Lost));
    }

    [Fact]
    public void A_sample_that_is_not_finite_does_not_enter()
    {
        var writer = Make(Small);
        var entry = new StoreBatch();
        entry.Samples.Add(("bay1", new Sample(Channel.Power, Start, double.PositiveInfinity)));

        Assert.Throws<ArgumentException>(() => writer.TryEnqueue("bay1", new Sample(Channel.Power, Start, double.NaN)));
        Assert.Throws<ArgumentException>(() => writer.TryEnqueue(entry));
        Assert.Equal(0, writer.Waiting);
    }

    [Fact]
    public async Task A_callback_that_throws_holds_up_none_after_it()
    {
        var writer = Make(Small);
        var acknowledged = 0;
        writer.TryEnqueue("bay1", At(0), () => throw new InvalidOperationException());
        writer.TryEnqueue("bay1", At(1), () => acknowledged++);

        await writer.FlushAsync(_patience.Token);

        Assert.Equal(1, acknowledged);
        Assert.Equal([305], _log.Ids);
    }

    [Fact]
    public async Task Completing_commits_what_waits_and_takes_no_more()
    {
        var writer = Make(new SampleWriterOptions { CommitSpacingMs = 10_000 });
        for (var i = 0; i < 50; i++)
            writer.TryEnqueue("bay1", At(i));

        Assert.True(await writer.CompleteAsync(_patience.Token));

        Assert.False(writer.TryEnqueue("bay1", At(51)));
        Assert.Equal(50, (await SamplesAsync()).Count);
    }

    [Fact]
    public async Task A_store_that_fails_until_the_deadline_is_said_and_nothing_was_acknowledged()
    {
        var writer = Make(Small);
        _store.Fault = new IOException("No space left on device");
        writer.TryEnqueue("bay1", At(0), () => Assert.Fail("It was not kept."));
        await _store.AttemptAsync();
        var flushing = writer.FlushAsync(_patience.Token);

        Assert.False(await writer.CompleteAsync(new CancellationToken(canceled: true)));

        Assert.Equal([300, 306], _log.Ids);
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => flushing);
    }

    [Fact]
    public async Task Many_threads_lose_nothing_and_every_callback_comes_once_in_the_order_of_entry()
    {
        await using var writer = new SampleWriter(_store, new SampleWriterOptions { CommitSpacingMs = 0 }, TimeProvider.System, _log);
        var acknowledged = Enumerable.Range(0, 4).Select(_ => new List<int>()).ToList();

        await Task.WhenAll(Enumerable.Range(0, 4).Select(thread => Task.Run(() =>
        {
            for (var i = 0; i < 2000; i++)
            {
                var item = i;
                Assert.True(writer.TryEnqueue($"bay{thread}", At(i), () => acknowledged[thread].Add(item)));
            }
        })));
        Assert.True(await writer.CompleteAsync(_patience.Token));

        Assert.All(acknowledged, items => Assert.Equal(Enumerable.Range(0, 2000), items));
        Assert.Equal(8000, _store.BatchSizes.Sum());
    }

    [Fact]
    public async Task A_sample_that_enters_allocates_nothing_in_steady_state()
    {
        var writer = Make(new SampleWriterOptions { Capacity = 10_000, BatchItems = 100_000, CommitSpacingMs = 0, UnhurriedSpacingMs = 0 });
        Action committed = () => { };
        for (var round = 0; round < 3; round++) // both sides have grown by the third
        {
            _store.Hold();
            writer.TryEnqueue("bay1", At(0));
            await _store.AttemptAsync();
            for (var i = 0; i < 8000; i++)
                writer.TryEnqueue("bay1", At(i), committed);
            _store.Release();
            await writer.FlushAsync(_patience.Token);
            await _store.AttemptAsync();
        }

        _store.Hold();
        writer.TryEnqueue("bay1", At(0));
        await _store.AttemptAsync();
        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 8000; i++)
            writer.TryEnqueue("bay1", At(i), committed);
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;
        _store.Release();

        Assert.Equal(0, allocated);
    }

    private static AlarmChange Alarm { get; } = new(
        Start, "bay1", "air-pressure-low", AlarmState.Unacknowledged, AlarmPriority.High, 151, 189, "kPa", "birch-6-cut", "low", [], []);

    private static Sample At(int second) => new(Channel.AirPressure, Start + TimeSpan.FromSeconds(second), second);

    private SampleWriter Make(SampleWriterOptions options) => _writer = new SampleWriter(_store, options, _time, _log);

    /// <summary>Lets time pass until one more append has been tried.</summary>
    private Task AttemptAsync() => LetTimePassUntilAsync(_store.AttemptAsync());

    private async Task LetTimePassUntilAsync(Task done)
    {
        while (!done.IsCompleted)
        {
            _time.Advance(TimeSpan.FromSeconds(1));
            await Task.Yield();
        }

        await done;
    }

    private async Task<List<Sample>> SamplesAsync() =>
        await _store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync();

    private async Task<IReadOnlyList<Gap>> GapsAsync(string machine) => await _store.ReadGapsAsync(machine, Instant.MinValue, Instant.MaxValue, default);
}
