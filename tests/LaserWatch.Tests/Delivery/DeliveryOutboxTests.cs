using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Storage;

namespace LaserWatch.Delivery;

public class DeliveryOutboxTests
{
    private static readonly DeliveryOptions Two = Told.By(("office", Told.RaisedAndEnded), ("home", Told.RaisedAndEnded));

    [Fact]
    public async Task Without_an_outlet_there_is_no_file_and_posting_does_nothing()
    {
        await using var bench = await new DeliveryBench().StartAsync();

        Assert.False(bench.Outbox.IsOn);
        Assert.True(bench.Outbox.Post(bench.Change()));
        Assert.True(await bench.Outbox.CompleteAsync(TimeSpan.Zero));
        Assert.Same(DeliveryStatus.Off, bench.Outbox.Status);
        Assert.False(File.Exists(bench.Path));
    }

    [Fact]
    public async Task A_dead_outlet_delays_no_other_and_gets_all_in_order_when_it_is_back()
    {
        var office = new RecordingOutlet("office") { Down = true };
        var home = new RecordingOutlet("home");
        await using var bench = await new DeliveryBench { Options = Two, Outlets = [office, home] }.StartAsync();
        bench.Post();
        bench.Post(state: AlarmState.ReturnedUnacknowledged);
        bench.Post(Conditions.CoolantCold);
        await RealBroker.UntilAsync(() => home.Taken.Count == 3 && office.Attempts > 0, "the other one did not get all");
        Assert.Empty(office.Taken);
        await RealBroker.UntilAsync(
            () => (bench.Outbox.Status.Outlets[0].Waiting, bench.Outbox.Status.Outlets[1].Waiting) == (3, 0), "the status does not say what waits where");
        Assert.NotNull(bench.Outbox.Status.Outlets[0].FailingSince);

        bench.Time.Advance(TimeSpan.FromMinutes(10));
        office.Down = false;
        await bench.LaterAsync(() => office.Taken.Count == 3, "it did not get all when it was back");
        Assert.Equal(
            ["late news: bay1 coolant-hot raised", "late news: bay1 coolant-hot ended", "late news: bay1 coolant-cold raised"], office.Said);
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0] is { Delivered: 3, Late: 3, FailingSince: null, Waiting: 0 }, "the status does not say so");
    }

    [Fact]
    public async Task A_stop_while_an_outlet_is_down_leaves_it_on_the_disk_for_the_next_start()
    {
        var office = new RecordingOutlet("office") { Down = true };
        await using var bench = await new DeliveryBench { Options = Told.By(("office", Told.RaisedAndEnded)), Outlets = [office] }.StartAsync();
        bench.Post();
        await bench.StopAsync();
        Assert.Equal("1 messages wait for office; they are sent after the next start", bench.Log.Warnings[^1]);
        office.Down = false;
        await bench.StartAsync();
        await RealBroker.UntilAsync(() => office.Taken.Count == 1, "it was not sent after the start");
    }

    [Fact]
    public async Task Attempts_go_on_without_end_ever_less_often_up_to_the_bound()
    {
        var office = new RecordingOutlet("office") { Down = true };
        await using var bench = await new DeliveryBench { Options = Told.By(("office", Told.RaisedAndEnded)) with { LongestRetrySeconds = 60 }, Outlets = [office] }.StartAsync();
        bench.Post();
        for (var attempt = 1; attempt <= 12; attempt++)
            await bench.LaterAsync(() => office.Attempts >= attempt, $"attempt {attempt} was not made", seconds: 20);

        Assert.Single(bench.Log.Warnings); // told once
    }

    [Fact]
    public async Task A_new_alarm_does_not_sit_out_the_long_pause_that_an_outage_has_led_to()
    {
        var office = new RecordingOutlet("office") { Down = true };
        await using var bench = await new DeliveryBench { Options = Told.By(("office", Told.RaisedAndEnded)) with { LongestRetrySeconds = 3600 }, Outlets = [office] }.StartAsync();
        bench.Post();
        await bench.LaterAsync(() => office.Attempts >= 11, "the pauses have not become long", seconds: 60); // the next is over half an hour off
        office.Down = false;
        var back = bench.Now;
        bench.Post(Conditions.AirPressureLost, priority: AlarmPriority.Urgent);
        await bench.LaterAsync(() => office.Taken.Count == 2, "it sat the pause out");

        Assert.True(bench.Now - back < TimeSpan.FromMinutes(10), $"it took {bench.Now - back}");
    }

    [Fact]
    public async Task While_the_disk_takes_nothing_it_stays_in_memory_and_the_log_tells_twice()
    {
        var office = new RecordingOutlet("office");
        await using var bench = await new DeliveryBench { Options = Told.By(("office", Told.RaisedAndEnded)), Outlets = [office] }.StartAsync();
        using (var other = Storage.Sqlite.StoreFile.Connect(bench.Path, 1))
        {
            using var holding = other.BeginTransaction(); // as a backup that takes its time would
            bench.Post();
            await RealBroker.UntilAsync(() => bench.Log.Warnings.Count == 1, "nobody was told");
            Assert.Equal($"The outbox {bench.Path} takes nothing; 1 alarm transitions wait in memory, and are tried again. Free the disk, or see what holds the file", bench.Log.Warnings[0]);
            Assert.Empty(office.Taken);
        }

        await bench.LaterAsync(() => office.Taken.Count == 1, "it was lost");
        Assert.Equal([$"The outbox {bench.Path} works again"], bench.Log.Warnings.Skip(1));
    }

    [Fact]
    public async Task What_waits_longer_than_messages_are_kept_is_given_up_with_a_line()
    {
        var office = new RecordingOutlet("office") { Down = true };
        await using var bench = await new DeliveryBench { Options = Told.By(("office", Told.RaisedAndEnded)) with { KeepDays = 1 }, Outlets = [office] }.StartAsync();
        bench.Post();
        await RealBroker.UntilAsync(() => office.Attempts > 0, "no attempt");
        bench.Time.Advance(TimeSpan.FromDays(1.1));
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0].Refused == 1, "it was not given up");

        Assert.Contains("The message about coolant-hot of bay1 (unacknowledged) for office was given up: it could not be delivered for 1 days", bench.Log.Warnings);
    }

    [Fact]
    public async Task Where_there_is_no_room_before_the_disk_it_is_counted_and_logged_and_the_next_start_finds_it_in_the_store()
    {
        using var folder = new TemporaryFolder();
        var office = new RecordingOutlet("office");
        var log = new LogLines<DeliveryOutbox>();
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(DeliveryBench.Start);
        await using var outbox = new DeliveryOutbox(
            Told.By(("office", Told.RaisedAndEnded)), new FloodOptions(), folder.File("a.outbox.db"), [office], time, seed: 1, log, mostInMemory: 1);
        await using var bench = new DeliveryBench();

        // Not started yet: nothing takes from the queue.
        Assert.True(outbox.Post(bench.Change()));
        Assert.False(outbox.Post(bench.Change(Conditions.CoolantCold)));
        Assert.Equal((1, 1L), (outbox.Status.InMemory, outbox.Status.Dropped));
        Assert.Equal("bay1: coolant-cold unacknowledged found no room before the outbox; 1 so far. The next start finds it in the store", Assert.Single(log.Warnings));

        await bench.Store.AppendAsync(Batch(bench.Change(), bench.Change(Conditions.CoolantCold)), CancellationToken.None);
        await outbox.StartAsync(bench.Store, CancellationToken.None);
        await RealBroker.UntilAsync(() => office.Taken.Count == 2, "not both were told");
        Assert.Equal(["news: bay1 coolant-cold raised", "news: bay1 coolant-hot raised"], office.Said.Order());
    }

    [Fact]
    public async Task A_file_that_cannot_be_opened_is_told_with_its_mend()
    {
        using var folder = new TemporaryFolder();
        File.WriteAllText(folder.File("laserwatch.outbox.db"), "this is not a database, whatever its name says");
        var options = LaserWatchOptions.Default with
        {
            Store = new StoreOptions { Path = folder.File("laserwatch.db") },
            Delivery = Told.By(("office", Told.RaisedAndEnded)),
        };
        await using var outbox = new DeliveryOutbox(options, TimeProvider.System, new LogLines<DeliveryOutbox>());
        await using var bench = new DeliveryBench();

        var fault = await Assert.ThrowsAsync<StoreException>(() => outbox.StartAsync(bench.Store, CancellationToken.None));
        Assert.Contains("laserwatch.outbox.db cannot be opened", fault.Message, StringComparison.Ordinal);
    }

    private static StoreBatch Batch(params AlarmChange[] changes)
    {
        var batch = new StoreBatch();
        batch.AlarmChanges.AddRange(changes);
        return batch;
    }
}
