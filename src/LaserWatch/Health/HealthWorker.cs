using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>Runs the pages, the metrics, the heartbeat and the sign of life beside the watch. None of them can end it.</summary>
public sealed class HealthWorker(
    LaserWatchOptions options, WatchFigures figures, WatchWorker worker, RejectionLedger rejections, IBrokerLink link, SampleWriter writer,
    AlarmOutbox outbox, DeliveryOutbox delivery, SteadyTime clock, AgentCondition condition, Heartbeat heartbeat, SignOfLife signOfLife, TimeProvider time, ILogger<HealthWorker> logger)
    : BackgroundService
{
    private volatile Uri? _address;

    /// <summary>Where the pages are; null where they are not, or not yet.</summary>
    public Uri? Address => _address;

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        if (!options.Health.Enabled)
            return;
        await Task.WhenAll(
            GuardedAsync("The health page", ShowAsync, stoppingToken),
            GuardedAsync("The sending of metrics", SendAsync, stoppingToken),
            GuardedAsync("The heartbeat", heartbeat.RunAsync, stoppingToken),
            GuardedAsync("The sign of life", signOfLife.RunAsync, stoppingToken));
    }

    private async Task ShowAsync(CancellationToken stop)
    {
        AgentMetrics.Register(figures, worker, rejections, link, writer, outbox, delivery, clock, condition, heartbeat, options.Store);
        using var metrics = new MetricsReading(figures.Meter, options.Broker.ClientId, time.GetUtcNow());
        await using var pages = new HealthPages(options.Health, condition, metrics, logger);
        await pages.StartAsync(stop);
        _address = pages.Address;
        await Task.Delay(Timeout.Infinite, stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
    }

    private async Task SendAsync(CancellationToken stop)
    {
        if (options.Health.Otlp.Target is { } target)
            await SendToAsync(target, stop);
    }

    // A method of its own: nothing of the library is loaded where it is not called.
    private async Task SendToAsync(Uri collector, CancellationToken stop)
    {
        using var failures = new OtlpFailures(collector, logger);
        using var sending = MetricsOutlet.Open(figures.Meter, options.Health.Otlp, collector, options.Broker.ClientId);
        await Task.Delay(Timeout.Infinite, stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
    }

    private async Task GuardedAsync(string part, Func<CancellationToken, Task> runAsync, CancellationToken stop)
    {
        try
        {
            await runAsync(stop);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }
        catch (Exception fault) // whatever it is, machines are watched on: the agent's own health must not be what ends it
        {
            logger.HealthPartFailed(fault, part);
        }
    }
}
