using Microsoft.Extensions.Hosting;

namespace LaserWatch.Health;

/// <summary>Gives back the memory that only the start needed, or the sealing of a day: an idle agent would hold it for years.</summary>
internal sealed class StartMemory(TimeProvider time) : BackgroundService
{
    /// <summary>By then the store is open, the broker was met, and the first states were saved.</summary>
    private static readonly TimeSpan StartTakes = TimeSpan.FromSeconds(10);

    private static readonly TimeSpan LongestWait = TimeSpan.FromHours(1);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        for (var wait = StartTakes; ; wait = 3 * wait < LongestWait ? 3 * wait : LongestWait)
        {
            await Task.Delay(wait, time, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            if (stoppingToken.IsCancellationRequested)
                return;
            GC.Collect(GC.MaxGeneration, GCCollectionMode.Aggressive, blocking: true, compacting: true);
            if (OperatingSystem.IsLinux())
                NativeHeap.GiveBack();
        }
    }
}
