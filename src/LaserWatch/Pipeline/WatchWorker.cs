using System.Threading.Channels;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Proof;
using LaserWatch.Reports;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Runs the pipeline in the host: takes up where the last process stopped, watches, and stops without losing anything.</summary>
public sealed class WatchWorker(
    LaserWatchOptions options, Resumption resumption, WatchPipeline pipeline, Ticker ticker, IBrokerLink link, ITelemetryStore store,
    SampleWriter writer, EvidenceKeeper evidence, AlarmOutbox outbox, DeliveryOutbox delivery, FloodTeller flood, StatusPublisher status, Shop shop,
    WatchFigures figures, SteadyTime clock, TimeProvider time, IHostApplicationLifetime lifetime, ILogger<WatchWorker> logger)
    : BackgroundService
{
    /// <summary>Messages between the broker and the pipeline; at a hundred a second, five minutes of a busy processor.</summary>
    private const int InboxCapacity = 4 * InboxGate.Crowd;

    private static readonly TimeSpan UpkeepEvery = TimeSpan.FromMinutes(1);
    private static readonly TimeSpan SealEvery = TimeSpan.FromHours(1);
    private static readonly TimeSpan RecordsEvery = TimeSpan.FromSeconds(10);

    // Together less than the five seconds that a stop may take.
    private static readonly TimeSpan TimeToDrain = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan TimeToBreakOff = TimeSpan.FromSeconds(0.25);
    private static readonly TimeSpan TimeToStore = TimeSpan.FromSeconds(1.5);
    private static readonly TimeSpan TimeToDeliver = TimeSpan.FromSeconds(0.5);
    private static readonly TimeSpan TimeToSayGoodBye = TimeSpan.FromSeconds(1.25);

    private readonly Channel<RawMessage> _inbox = NewInbox();

    /// <summary>What ended the watch by itself; null while it runs, or where it was told to stop.</summary>
    public Exception? Failure { get; private set; }

    /// <summary>Messages that wait to be judged.</summary>
    public int InboxDepth => _inbox.Reader.Count;

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        try
        {
            await ResumeAsync(stoppingToken);
            await WatchAsync(stoppingToken);
        }
        catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
        {
        }
        catch (Exception fault) // the one place where a broken promise of any part ends the process, for its supervisor to start anew
        {
            Failure = fault;
            lifetime.StopApplication();
        }
    }

    private async Task ResumeAsync(CancellationToken stop)
    {
        await AwaitStoreAsync(stop);
        await TakeUpRecordsAsync(stop);
        await NoteCalibrationAsync(stop);
        var outcome = await resumption.RunAsync(stop);
        if (store.HoldsTraining) // which the saved watch does not know
            outcome = outcome with { Known = [.. outcome.Known.Select(c => c.AsTraining())], News = [.. outcome.News.Select(c => c.AsTraining())] };
        await delivery.StartAsync(store, stop); // before the news go into the store: it compares itself with what is there
        var now = Now();
        flood.Recall(await store.ReadAlarmChangesAsync(null, now - FloodTeller.LongestRecall, Instant.MaxValue, stop), now);
        var batch = new StoreBatch();
        batch.AlarmChanges.AddRange(outcome.News);
        batch.JobRuns.AddRange(outcome.InferredRuns);
        writer.TryEnqueue(batch);
        foreach (var watch in outcome.Watches)
            pipeline.Resume(watch, now, outcome.SeenUntil);

        // Announced before is not announced anew; but the retained topics must tell what stands, whatever the broker remembers.
        foreach (var change in outcome.Known)
            outbox.Restate(change);
        foreach (var change in outcome.News)
        {
            outbox.Post(change);
            flood.Observe(change);
            delivery.PostFoundAgain(change);
            AlarmLine.Write(logger, change);
        }

        logger.Watching(outcome.Watches.Count, outcome.Samples, outcome.Watches.Sum(w => w.Standing.Count));
    }

    /// <summary>An inbox as the agent has it: whoever writes into an empty one lends the pipeline his thread.</summary>
    internal static Channel<RawMessage> NewInbox() => System.Threading.Channels.Channel.CreateBounded<RawMessage>(
        new BoundedChannelOptions(InboxCapacity) { SingleReader = true, FullMode = BoundedChannelFullMode.Wait, AllowSynchronousContinuations = true });

    /// <summary>After a power cut the store's server may come up later than we do.</summary>
    private async Task AwaitStoreAsync(CancellationToken stop)
    {
        for (var failures = 1; ; failures++)
        {
            try
            {
                await store.ReadMachinesAsync(stop);
                return;
            }
            catch (StoreException fault) when (fault.MayPass)
            {
                if (failures == 1)
                    logger.WaitingForStore($"{fault.Message}.");
                await Task.Delay(RetryPolicy.Forever.Wait(failures)!.Value, time, stop);
            }
        }
    }

    private async Task WatchAsync(CancellationToken stop)
    {
        using var hangUp = new CancellationTokenSource();
        using var cut = new CancellationTokenSource();
        writer.Kept = batch => figures.CountStored(batch, clock.Now);
        figures.Beat(time.GetTimestamp()); // the first tick is due a second from now
        figures.IsWatching = true;
        var linking = link.RunAsync(_inbox, hangUp.Token);
        var watching = pipeline.RunAsync(_inbox.Reader, cut.Token);
        var showing = status.RunAsync(stop);
        Task[] all = [linking, watching, showing, ticker.RunAsync(_inbox.Writer, stop), UpkeepAsync(stop), SealAsync(stop), FollowRecordsAsync(stop)];

        var first = await Task.WhenAny(all);
        Failure = first.Exception?.GetBaseException();
        if (Failure is not null)
            lifetime.StopApplication();
        await FinishAsync(watching, showing, linking, hangUp, cut);
    }

    /// <summary>No more messages; those taken are judged, stored, acknowledged, told; then good-bye.</summary>
    private async Task FinishAsync(Task watching, Task showing, Task linking, CancellationTokenSource hangUp, CancellationTokenSource cut)
    {
        var left = new List<string>();
        _inbox.Writer.TryComplete();
        if (!await EndsAsync(watching, TimeToDrain))
        {
            await cut.CancelAsync();
            await EndsAsync(watching, TimeToBreakOff);
            left.Add("judging");
        }

        if (watching.IsCompleted)
            pipeline.SaveAll(Now());
        using (var deadline = new CancellationTokenSource(TimeToStore, time))
        {
            if (!await writer.CompleteAsync(deadline.Token))
                left.Add("storing");
        }

        var telling = outbox.CompleteAsync(TimeToDeliver);
        var sending = delivery.CompleteAsync(TimeToDeliver);
        if (!await telling)
            left.Add("delivering alarms");
        if (!await sending)
            left.Add("writing the outbox");
        await EndsAsync(showing, TimeToBreakOff); // or it would contradict the good-bye
        await hangUp.CancelAsync();
        if (!await EndsAsync(linking, TimeToSayGoodBye))
            left.Add("the good-bye to the broker");
        if (left.Count == 0)
            logger.Stopped();
        else
            logger.StoppedUnfinished(string.Join(", ", left));
    }

    private async Task<bool> EndsAsync(Task task, TimeSpan patience)
    {
        await task.WaitAsync(patience, time).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        return task.IsCompleted;
    }

    private async Task UpkeepAsync(CancellationToken stop)
    {
        using var timer = new PeriodicTimer(UpkeepEvery, time);
        while (await timer.WaitForNextTickAsync(stop))
        {
            try
            {
                await store.MaintainAsync(clock.CarefulNow, stop); // a clock set forward by years must not delete them
            }
            catch (Exception fault) when (fault is not OperationCanceledException) // the writer says when the store itself fails
            {
                logger.UpkeepFailed(fault);
            }
        }
    }

    /// <summary>Seals the days that are over: soon after the start, and then every hour. Nothing waits for it.</summary>
    private async Task SealAsync(CancellationToken stop)
    {
        var failing = false;
        using var timer = new PeriodicTimer(UpkeepEvery, time);
        while (await timer.WaitForNextTickAsync(stop))
        {
            timer.Period = SealEvery;
            try
            {
                var outcome = await evidence.SealAsync(store, clock.CarefulNow, stop);
                figures.CountSealed(outcome.Days + outcome.Revised);
                if (failing)
                    logger.SealingWorksAgain();
                failing = false;
            }
            catch (Exception fault) when (fault is not OperationCanceledException) // whatever it is, the watch goes on without
            {
                if (!failing)
                    logger.SealingFailed(fault is EvidenceException or StoreException ? null : fault, fault.Message);
                failing = true;
            }
        }
    }

    /// <summary>Job records may be added by the command line, which is another process.</summary>
    private async Task FollowRecordsAsync(CancellationToken stop)
    {
        IReadOnlyList<JobRecord> known = [];
        var failing = false;
        using var timer = new PeriodicTimer(RecordsEvery, time);
        while (await timer.WaitForNextTickAsync(stop))
        {
            try
            {
                var records = await store.ReadJobRecordsAsync(stop);
                failing = false;
                if (!records.SequenceEqual(known))
                    pipeline.OfferRecords(known = records);
            }
            catch (Exception fault) when (fault is not OperationCanceledException) // as above
            {
                if (!failing)
                    logger.UpkeepFailed(fault);
                failing = true;
            }
        }
    }

    /// <summary>The jobs file is the shop's own word: it goes over what the store holds, and into it.</summary>
    private async Task TakeUpRecordsAsync(CancellationToken stop)
    {
        var stored = await store.ReadJobRecordsAsync(stop);
        foreach (var record in stored.Concat(options.JobRecords))
            shop.Jobs.Add(record);
        var batch = new StoreBatch();
        batch.JobRecords.AddRange(options.JobRecords.Except(stored));
        writer.TryEnqueue(batch);
    }

    /// <summary>So that a report can say since when the sensors have been taken as they are.</summary>
    private async Task NoteCalibrationAsync(CancellationToken stop)
    {
        var batch = new StoreBatch();
        batch.ServiceEvents.AddRange(await CalibrationLog.MissingAsync(store, options, Now(), stop));
        writer.TryEnqueue(batch);
    }

    private Instant Now() => clock.Now;
}
