using System.Globalization;
using System.Net.Sockets;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>Gives systemd the signs of life it asks for (<c>WatchdogSec=</c>), for as long as the pipeline takes the ticks of the clock.</summary>
/// <remarks>
/// Until the first tick, while stored samples are looked through or a server is waited for, the process vouches for itself: that may
/// rightly take long. A pipeline that stands still afterwards gets no more signs, and is started anew by systemd.
/// </remarks>
/// <param name="within">How soon a sign must come after the last; null: nobody asks.</param>
public sealed class Watchdog(WatchPipeline pipeline, ISystemdNotifier supervisor, TimeSpan? within, TimeProvider time, ILogger<Watchdog> logger) : BackgroundService
{
    // The supervisor's own advice is half; a third leaves room for a slow machine.
    private readonly PeriodicTimer? _timer = within is { } limit ? new(limit / 3, time) : null;

    /// <summary>What the environment asks of this process, as sd_watchdog_enabled(3) tells it.</summary>
    public static TimeSpan? Asked(Func<string, string?> environment, int ownProcess)
    {
        var process = environment("WATCHDOG_PID");
        if (process is not null && process != ownProcess.ToString(CultureInfo.InvariantCulture))
            return null;
        return long.TryParse(environment("WATCHDOG_USEC"), NumberStyles.None, CultureInfo.InvariantCulture, out var microseconds) && microseconds is > 0 and < 1L << 50
            ? TimeSpan.FromMicroseconds(Math.Max(microseconds, 3000)) : null;
    }

    public override void Dispose()
    {
        _timer?.Dispose();
        base.Dispose();
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        if (_timer is null)
            return;
        var failing = false;
        var seen = 0;
        while (await NextAsync(stoppingToken))
        {
            var ticks = pipeline.TicksTaken;
            if (ticks != 0 && ticks == seen)
                continue;
            seen = ticks;
            try
            {
                supervisor.Notify(new ServiceState("WATCHDOG=1"));
                failing = false;
            }
            catch (SocketException fault)
            {
                if (!failing)
                    logger.NoSignOfLife(fault);
                failing = true;
            }
        }
    }

    private async ValueTask<bool> NextAsync(CancellationToken stop)
    {
        try
        {
            return await _timer!.WaitForNextTickAsync(stop);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            return false;
        }
    }
}
