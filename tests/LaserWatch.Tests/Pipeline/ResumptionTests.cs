using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.History;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using static LaserWatch.Pipeline.PipelineBench;

namespace LaserWatch.Pipeline;

public sealed class ResumptionTests : IAsyncDisposable
{
    private readonly FaultyTelemetryStore _store = new();

    public ValueTask DisposeAsync() => _store.DisposeAsync();

    [Fact]
    public async Task A_standing_alarm_stands_after_a_restart_and_is_not_announced_anew()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 150);
            await before.FinishAsync();
            Assert.Single(before.Announced);
            before.Pipeline.SaveAll(At(20));
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(_store);
        var outcome = await after.ResumeAsync(At(60));

        Assert.Empty(outcome.News);
        Assert.Equal([Conditions.AirPressureLow], outcome.Watches.Single().Standing.Select(c => c.Condition));
        Assert.Equal([AlarmState.Unacknowledged], outcome.Known.Select(c => c.State));
        after.Cut(61, 70, 150);
        await after.SettleAsync();
        Assert.Empty(after.Announced);
    }

    [Fact]
    public async Task An_alarm_that_was_stored_before_the_crash_is_known_and_one_that_was_not_is_news()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 150); // killed before the next state was saved: the last is that of the job's start
            await before.SettleAsync();
        }

        await using (var after = new PipelineBench(_store))
            Assert.Empty((await after.ResumeAsync(At(60))).News);

        var withoutLog = new FaultyTelemetryStore();
        await CopyAsync(withoutLog);
        await using var again = new PipelineBench(withoutLog);
        var news = Assert.Single((await again.ResumeAsync(At(60))).News);
        Assert.Equal((await AlarmsAsync())[0].Time, news.Time);
    }

    [Fact]
    public async Task A_crash_changes_nothing_in_what_is_announced_later()
    {
        await using var whole = new PipelineBench();
        Run(whole, 150);
        whole.Cut(20, 40, 210);
        await whole.FinishAsync();

        await using (var before = new PipelineBench(_store))
        {
            Run(before, 150);
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(_store);
        await after.ResumeAsync(At(20));
        after.Cut(20, 40, 210);
        await after.SettleAsync();

        Assert.Equal(
            whole.Announced.Skip(1).Select(c => (c.Time, c.Condition, c.State)),
            after.Announced.Select(c => (c.Time, c.Condition, c.State)));
        Assert.NotEmpty(after.Announced);
    }

    [Fact]
    public async Task An_alarm_that_a_tick_raised_before_the_crash_is_not_announced_anew_and_ends_when_its_sensor_is_back()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 210);
            for (var second = 21; second < 75; second++)
                before.Tick(second); // the state is saved at the sixtieth, so it knows nothing of the silence
            await before.SettleAsync();
            Assert.Equal([(Conditions.SensorSilent, AlarmState.Unacknowledged)], before.Announced.Select(c => (c.Condition, c.State)));
        }

        await using var after = new PipelineBench(_store);
        var outcome = await after.ResumeAsync(At(100));
        Assert.Empty(outcome.News);
        Assert.Equal([Conditions.SensorSilent], outcome.Watches.Single().Standing.Select(c => c.Condition));
        for (var second = 101; second < 200; second++)
            after.Tick(second);
        after.Cut(200, 210, 210);
        await after.SettleAsync();

        Assert.Equal([(Conditions.SensorSilent, AlarmState.ReturnedUnacknowledged)], after.Announced.Select(c => (c.Condition, c.State)));
    }

    [Fact]
    public async Task An_acknowledgement_survives_a_crash()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 150);
            before.Send(20, "bay1/command", """{"do":"acknowledge","condition":"air-pressure-low","by":"night shift"}""");
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(_store);
        var outcome = await after.ResumeAsync(At(60));

        Assert.Empty(outcome.News);
        Assert.Equal([AlarmState.Acknowledged], outcome.Watches.Single().Standing.Select(c => c.State));
    }

    [Fact]
    public async Task A_state_of_another_version_is_replaced_by_learning_from_the_samples_and_the_past_is_not_announced()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 150);
            await before.SettleAsync();
        }

        var batch = new StoreBatch();
        batch.WatchStates.Add(("bay1", [1, 2, 3]));
        await _store.AppendAsync(batch, CancellationToken.None);
        await using var after = new PipelineBench(_store);
        var outcome = await after.ResumeAsync(At(60));

        Assert.Empty(outcome.News);
        Assert.Equal([Conditions.AirPressureLow], outcome.Watches.Single().Standing.Select(c => c.Condition));
    }

    [Fact]
    public async Task After_a_restart_sensors_have_a_minute_to_come_back_before_they_are_called_silent()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 210);
            await before.FinishAsync();
            before.Pipeline.SaveAll(At(20));
            await before.SettleAsync();
        }

        await using var after = new PipelineBench(_store);
        await after.ResumeAsync(At(7200));
        for (var second = 7200; second < 7259; second++)
            after.Tick(second);
        await after.SettleAsync();

        Assert.Empty(after.Announced);
    }

    [Fact]
    public async Task A_span_annotated_after_it_was_learned_from_is_left_out_from_the_next_start_on()
    {
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 210);
            await before.FinishAsync();
            before.Pipeline.SaveAll(At(20));
            await before.SettleAsync();
        }

        var annotation = new Annotation("bay1", "1", AnnotationKind.Ignore, At(5), At(10), null, null, null, null);
        var batch = new StoreBatch();
        batch.ServiceEvents.Add(annotation.ToEvent());
        await _store.AppendAsync(batch, CancellationToken.None);
        await using (var after = new PipelineBench(_store))
        {
            var outcome = await after.ResumeAsync(At(60));
            Assert.Equal(At(20), outcome.SeenUntil);
            Assert.Equal((await after.SamplesAsync()).Count, outcome.Samples);
            Assert.Equal(AnnotationBook.Of([annotation.ToEvent()]).FingerprintUntil(At(60)), outcome.Watches.Single().LeftOutUntil(At(60)));
            await after.FinishAsync();
            after.Pipeline.SaveAll(At(61));
            await after.SettleAsync();
        }

        // It is learned anew once, and not at every start.
        await using var again = new PipelineBench(_store);
        Assert.Equal(0, (await again.ResumeAsync(At(70))).Samples);
    }

    [Fact]
    public async Task Annotations_of_samples_that_are_gone_do_not_cost_what_was_learned_from_them()
    {
        var gone = new FaultyTelemetryStore();
        await using (var before = new PipelineBench(_store))
        {
            Run(before, 210);
            await before.FinishAsync();
            before.Pipeline.SaveAll(At(20));
            await before.SettleAsync();
        }

        var batch = new StoreBatch();
        batch.WatchStates.Add(("bay1", (await _store.ReadWatchStateAsync("bay1", CancellationToken.None))!));
        batch.Samples.Add(("bay1", new Sample(Channel.AirPressure, At(900), 210)));
        batch.ServiceEvents.Add(new Annotation("bay1", "1", AnnotationKind.Ignore, At(5), At(10), null, null, null, null).ToEvent());
        await gone.AppendAsync(batch, CancellationToken.None);
        await using var after = new PipelineBench(gone);
        var outcome = await after.ResumeAsync(At(1000));

        Assert.Equal(0, outcome.Watches.Single().LeftOutUntil(At(1000)));
        Assert.Equal(At(20), outcome.SeenUntil);
    }

    private static void Run(PipelineBench bench, double kilopascals)
    {
        bench.Send(0, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        bench.Cut(1, 20, kilopascals);
    }

    private async Task<IReadOnlyList<AlarmChange>> AlarmsAsync() =>
        await _store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, CancellationToken.None);

    private async Task CopyAsync(FaultyTelemetryStore to)
    {
        var batch = new StoreBatch();
        await foreach (var sample in _store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), CancellationToken.None))
            batch.Samples.Add(("bay1", sample));
        batch.JobRuns.AddRange(await _store.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, CancellationToken.None));
        batch.WatchStates.Add(("bay1", (await _store.ReadWatchStateAsync("bay1", CancellationToken.None))!));
        await to.AppendAsync(batch, CancellationToken.None);
    }
}
