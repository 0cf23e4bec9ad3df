using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using static LaserWatch.Pipeline.PipelineBench;

namespace LaserWatch.Pipeline;

public sealed class WatchPipelineTests
{
    [Fact]
    public async Task A_message_is_acknowledged_after_its_sample_is_stored_and_not_before()
    {
        await using var bench = new PipelineBench();
        bench.Store.Hold();
        bench.SendSafely(0, "bay1/air_pressure", "210", number: 1);
        await bench.Store.AttemptAsync();
        Assert.Empty(bench.Acknowledged);

        bench.Store.Release();
        await bench.SettleAsync();

        Assert.Equal([1], bench.Acknowledged);
        Assert.Equal([new Sample(Channel.AirPressure, At(0), 210)], await bench.SamplesAsync());
    }

    [Fact]
    public async Task A_message_that_cannot_be_read_is_counted_and_acknowledged_and_the_next_one_is_taken()
    {
        await using var bench = new PipelineBench();
        bench.SendSafely(0, "bay1/air_pressure", "210", number: 1);
        bench.SendSafely(1, "bay1/air_pressure", "n/a", number: 2);
        bench.SendSafely(2, "bay1/air_pressure", "NaN", number: 3);
        bench.SendSafely(3, "BAY 1/air_pressure", "210", number: 4);
        bench.SendSafely(4, "bay1/air_pressure", """{"value": 211""", number: 5);
        bench.SendSafely(5, "bay1/air_pressure", "211", number: 6);
        await bench.SettleAsync();

        Assert.Equal([1, 2, 3, 4, 5, 6], bench.Acknowledged);
        Assert.Equal([210, 211], (await bench.SamplesAsync()).Select(s => s.Value));
        Assert.Equal(4, bench.Rejections.Total.Values.Sum());
        Assert.Equal(3, bench.Rejections.Of("bay1").Where(c => !c.Key.StartsWith("elsewhere_", StringComparison.Ordinal)).Sum(c => c.Value));
    }

    [Fact]
    public async Task A_sensor_that_two_machines_share_is_a_sample_of_each_and_acknowledged_once()
    {
        TopicRule RuleFor(string machine) => new() { Topic = "laserwatch/compressor/air", Machine = machine, Channel = "air_pressure", Unit = "bar" };
        await using var bench = new PipelineBench(rules: [RuleFor("bay1"), RuleFor("bay2")]);
        bench.SendSafely(0, "compressor/air", "2.1", number: 1);
        await bench.SettleAsync();

        Assert.Equal([1], bench.Acknowledged);
        Assert.Equal([new Sample(Channel.AirPressure, At(0), 210)], await bench.SamplesAsync("bay1"));
        Assert.Equal([new Sample(Channel.AirPressure, At(0), 210)], await bench.SamplesAsync("bay2"));
    }

    [Fact]
    public async Task A_delivery_that_comes_again_is_acknowledged_and_not_stored_twice()
    {
        var store = new FaultyTelemetryStore();
        await using (var first = new PipelineBench(store))
        {
            first.SendAgain(0, "bay1/air_pressure", "210", packet: 7, number: 1, sentAgain: false);
            await first.SettleAsync();
        }

        await using var second = new PipelineBench(store);
        second.SendAgain(9, "bay1/air_pressure", "210", packet: 7, number: 1, sentAgain: true);
        second.SendAgain(9.1, "bay1/air_pressure", "211", packet: 8, number: 2, sentAgain: true);
        second.SendAgain(9.2, "bay1/air_pressure", "211", packet: 8, number: 3, sentAgain: true);
        await second.SettleAsync();

        Assert.Equal([1, 2, 3], second.Acknowledged);
        Assert.Equal([new Sample(Channel.AirPressure, At(0), 210), new Sample(Channel.AirPressure, At(9.1), 211)], await second.SamplesAsync());
    }

    [Fact]
    public async Task Two_bare_numbers_of_one_moment_are_two_samples()
    {
        await using var bench = new PipelineBench();
        for (var i = 0; i < 100; i++)
            bench.Send(0, "bay1/air_pressure", "210");
        await bench.SettleAsync();

        Assert.Equal(100, (await bench.SamplesAsync()).Count);
    }

    [Fact]
    public async Task Samples_without_a_time_bear_the_millisecond_of_their_arrival_and_a_channels_second_one_a_microsecond_more()
    {
        await using var bench = new PipelineBench();
        bench.Send(1.0004567, "bay1/air_pressure", "210");
        bench.Send(1.0004568, "bay1/coolant_in", "20");
        bench.Send(1.0004999, "bay1/air_pressure", "211");
        bench.Send(1.0007, "bay2/air_pressure", "90");
        bench.Send(1.0008, "bay1/air_pressure", "212");
        bench.Send(1.0012, "bay1/air_pressure", "213");
        bench.Send(1.5, "bay1/coolant_in", """{"value": 20.5, "time": "2026-03-09T08:00:01.2345678Z"}""");
        await bench.SettleAsync();

        var second = At(1);
        Assert.Equal(
            [
                new Sample(Channel.AirPressure, second, 210), new Sample(Channel.CoolantIn, second, 20),
                new Sample(Channel.AirPressure, second + TimeSpan.FromMicroseconds(1), 211), new Sample(Channel.AirPressure, second + TimeSpan.FromMicroseconds(2), 212),
                new Sample(Channel.AirPressure, second + TimeSpan.FromMilliseconds(1), 213),
                new Sample(Channel.CoolantIn, second + TimeSpan.FromTicks(2345678), 20.5), // its own time, to the last digit
            ],
            await bench.SamplesAsync());
        Assert.Equal(default, await bench.Store.ReadIgnoredAsync("bay1", default));
    }

    [Fact]
    public async Task An_alarm_goes_out_while_the_disk_stands_still()
    {
        await using var bench = new PipelineBench();
        bench.Store.Hold();
        bench.Send(0, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        bench.Cut(1, 20, 150);
        await bench.FinishAsync();

        var raised = Assert.Single(bench.Announced);
        Assert.Equal((Conditions.AirPressureLow, AlarmState.Unacknowledged, "birch-6-cut"), (raised.Condition, raised.State, raised.Job));
        Assert.Empty(await bench.AlarmLogAsync());
        Assert.Contains(bench.Log.Warnings, line => line.StartsWith("bay1: air-pressure-low unacknowledged (", StringComparison.Ordinal) && line.Contains("Check first: ", StringComparison.Ordinal));

        bench.Store.Release();
        await bench.SettleAsync();
        Assert.Equal([raised.Time], (await bench.AlarmLogAsync()).Select(c => c.Time));
    }

    [Fact]
    public async Task Samples_of_a_pack_are_judged_in_time_order_and_those_of_one_instant_together()
    {
        await using var bench = new PipelineBench();
        bench.Send(20, "bay1/pack", """
            [{"bt":1773043200,"n":"air_pressure","u":"kPa","v":210},{"n":"air_pressure","u":"kPa","t":10,"v":212},
             {"n":"coolant_in","u":"Cel","v":20},{"n":"coolant_in","u":"Cel","t":10,"v":20.5}]
            """);
        await bench.SettleAsync();

        Assert.Equal(4, (await bench.SamplesAsync()).Count);
        Assert.Equal(0, bench.Shop.Find("bay1")!.Status.NotJudged["late"]);
        Assert.Equal(At(10), bench.Shop.Find("bay1")!.Newest);
    }

    [Fact]
    public async Task A_sample_that_comes_too_late_is_stored_and_counted_as_not_judged()
    {
        await using var bench = new PipelineBench();
        bench.Send(10, "bay1/air_pressure", "210");
        bench.Send(11, "bay1/air_pressure", """{"value": 180, "time": 1773043201}""");
        await bench.SettleAsync();

        Assert.Equal([new Sample(Channel.AirPressure, At(1), 180), new Sample(Channel.AirPressure, At(10), 210)], await bench.SamplesAsync());
        Assert.Equal(1, bench.Shop.Find("bay1")!.Status.NotJudged["late"]);
    }

    [Fact]
    public async Task A_retained_message_counts_only_where_it_tells_its_own_time()
    {
        await using var bench = new PipelineBench();
        bench.Send(0, "bay1/air_pressure", "150", retained: true);
        bench.Send(1, "bay1/job", """{"event":"start","job":"birch-6-cut"}""", retained: true);
        bench.Send(2, "bay1/air_pressure", """{"value": 210, "time": 1773043201}""", retained: true);
        await bench.SettleAsync();

        Assert.Equal([new Sample(Channel.AirPressure, At(1), 210)], await bench.SamplesAsync());
        Assert.Null(bench.Shop.Find("bay1")!.Status.RunSince);
        Assert.Equal(new Dictionary<string, long> { ["retained_without_time"] = 2 }, bench.Rejections.Total);
    }

    [Fact]
    public async Task The_end_of_a_job_that_never_began_is_counted_and_not_stored()
    {
        await using var bench = new PipelineBench();
        bench.Send(0, "bay1/job", """{"event":"end"}""");
        bench.Send(1, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        bench.Send(2, "bay1/job", """{"event":"end"}""");
        await bench.SettleAsync();

        Assert.Equal(
            [new JobEvent("bay1", At(1), JobEventKind.Start, "birch-6-cut"), new JobEvent("bay1", At(2), JobEventKind.End, null)],
            await bench.Store.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None));
        Assert.Equal(1, bench.Rejections.Of("bay1")["job_end_without_start"]);
    }

    [Theory]
    [InlineData(-50)]
    [InlineData(0)]
    [InlineData(7200)]
    public async Task An_acknowledgement_stands_after_what_it_acknowledges_whatever_the_sensor_clock_says(int behind)
    {
        await using var bench = new PipelineBench();
        bench.Send(behind, "bay1/job", $$"""{"event":"start","job":"birch-6-cut","time":{{1_773_043_200}}}""");
        for (var i = 1; i <= 80; i++)
            bench.Send(behind + (i * 0.25), "bay1/air_pressure", FormattableString.Invariant($$"""{"value": {{150 + (i % 2)}}, "time": {{1_773_043_200 + (i * 0.25)}}}"""));
        bench.Send(behind + 20.1, "bay1/command", """{"do":"acknowledge","condition":"air-pressure-low","by":"night shift"}""");
        for (var i = 81; i <= 240; i++)
            bench.Send(behind + (i * 0.25), "bay1/air_pressure", FormattableString.Invariant($$"""{"value": {{210 + (i % 2)}}, "time": {{1_773_043_200 + (i * 0.25)}}}"""));
        await bench.SettleAsync();

        Assert.Equal([AlarmState.Unacknowledged, AlarmState.Acknowledged, AlarmState.Normal], (await bench.AlarmLogAsync()).Select(c => c.State));
    }

    [Fact]
    public async Task A_shop_that_is_full_refuses_a_new_machine_and_goes_on_with_the_others()
    {
        await using var bench = new PipelineBench(mostMachines: 1);
        bench.Send(0, "bay1/air_pressure", "210");
        bench.SendSafely(1, "bay2/air_pressure", "210", number: 1);
        bench.Send(2, "bay1/air_pressure", "210");
        bench.Tick(3);
        await bench.SettleAsync();

        Assert.Equal(["bay1"], bench.Link.Announced);
        Assert.Equal([1], bench.Acknowledged);
        Assert.Equal(2, (await bench.SamplesAsync()).Count);
        Assert.Equal(1, bench.Rejections.Total["unknown_machine"]);
    }

    [Fact]
    public async Task Silence_is_not_held_against_sensors_that_could_not_be_heard()
    {
        await using var bench = new PipelineBench();
        for (var second = 0; second < 30; second++)
        {
            bench.Send(second, "bay1/air_pressure", $"{210 + (second % 2)}");
            bench.Tick(second + 0.5);
        }

        await bench.FinishAsync();
        Assert.Empty(bench.Announced);
        await using var cutOff = new PipelineBench();
        cutOff.Send(0, "bay1/air_pressure", "210");
        cutOff.Link.IsConnected = false;
        for (var second = 1; second < 3600; second++)
            cutOff.Tick(second);
        await cutOff.FinishAsync();

        Assert.Empty(cutOff.Announced);
    }

    [Fact]
    public async Task While_the_store_is_full_samples_at_qos_0_are_lost_and_those_at_qos_1_are_kept_until_it_works()
    {
        await using var bench = new PipelineBench(writing: new SampleWriterOptions { Capacity = 1000 });
        bench.Store.Fault = new IOException("disk full");
        for (var i = 0; i < 3000; i++)
            bench.Send(i * 0.01, "bay1/air_pressure", "210");
        for (var i = 0; i < 50; i++)
            bench.SendSafely(40 + i, "bay1/coolant_in", "20", number: i);
        bench.Tick(100);
        while (bench.Writer.RefusedItems == 0)
            await Task.Delay(10);
        bench.Store.Fault = null;
        await bench.Writer.FlushAsync(CancellationToken.None);
        bench.Tick(101);
        await bench.SettleAsync();

        // One that was refused in the very moment the store came back is taken a turn later: the link puts acknowledgements in order.
        Assert.Equal(Enumerable.Range(0, 50), bench.Acknowledged.Order());
        var samples = await bench.SamplesAsync();
        Assert.Equal(50, samples.Count(s => s.Channel == Channel.CoolantIn));
        var lost = 3000 - samples.Count(s => s.Channel == Channel.AirPressure);
        Assert.Equal(
            lost, (await bench.Store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None)).Sum(g => g.Lost));
    }

    [Fact]
    public async Task The_state_of_a_watch_is_saved_with_every_event_and_once_a_minute()
    {
        await using var bench = new PipelineBench();
        bench.Send(0, "bay1/air_pressure", "210");
        for (var second = 1; second < 30; second++)
            bench.Tick(second);
        Assert.Null(await StateAsync(bench));

        bench.Send(30, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        while (await StateAsync(bench) is null)
            await Task.Delay(10);
        Assert.Equal(At(30), await StateAsync(bench));
        for (var second = 31; second <= 61; second++)
            bench.Tick(second);
        await bench.SettleAsync();

        Assert.Equal(At(61), await StateAsync(bench));
    }

    [Fact]
    public async Task The_state_of_a_watch_that_hears_nothing_is_not_saved_again()
    {
        await using var bench = new PipelineBench();
        bench.Send(0, "bay1/coolant_in", "20");
        for (var second = 1; second <= 900; second++)
            bench.Tick(second);
        await bench.SettleAsync();

        // What is told of its silence on the way is saved once more.
        Assert.InRange((await StateAsync(bench))!.Value.UnixNanoseconds, At(60).UnixNanoseconds, At(600).UnixNanoseconds);
    }

    [Fact]
    public async Task The_path_of_a_sample_allocates_nothing()
    {
        const int Messages = 10_000;
        await using var bench = new PipelineBench();
        var rounds = new List<long>();
        for (var round = 0; round < 5; round++)
        {
            var inbox = Full(round, Messages);
            bench.Store.Hold(); // so that this thread alone works
            var before = GC.GetAllocatedBytesForCurrentThread();
            var running = bench.Pipeline.RunAsync(inbox, CancellationToken.None);
            rounds.Add(GC.GetAllocatedBytesForCurrentThread() - before);
            Assert.True(running.IsCompletedSuccessfully);
            bench.Store.Release();
            await bench.Writer.FlushAsync(CancellationToken.None);
        }

        // The first rounds learn the topic and let the lists grow.
        Assert.InRange(rounds.Min() / (double)Messages, 0, 0.5);
    }

    private static System.Threading.Channels.ChannelReader<RawMessage> Full(int round, int messages)
    {
        var inbox = System.Threading.Channels.Channel.CreateUnbounded<RawMessage>();
        for (var i = 0; i < messages; i++)
        {
            inbox.Writer.TryWrite(new RawMessage(
                "laserwatch/bay1/air_pressure", i % 2 == 0 ? "210"u8.ToArray() : "211"u8.ToArray(), At((round * 1000) + (i * 0.01)), "agent", 0, false,
                false, null));
        }

        inbox.Writer.Complete();
        return inbox.Reader;
    }

    private static async Task<Instant?> StateAsync(PipelineBench bench) =>
        await bench.Store.ReadWatchStateAsync("bay1", CancellationToken.None) is { } packed && SavedWatch.TryUnpack(packed, out var seen, out _)
            ? seen
            : null;
}
