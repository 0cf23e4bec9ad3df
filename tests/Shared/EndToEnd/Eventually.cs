using System.Diagnostics;

namespace LaserWatch.EndToEnd;

/// <summary>Polls what another process brings about, with a bound.</summary>
internal static class Eventually
{
    private static readonly TimeSpan Limit = TimeSpan.FromSeconds(40);

    public static Task HoldsAsync(Func<bool> holds, Func<string> what) => HoldsAsync(() => Task.FromResult(holds()), what);

    public static async Task HoldsAsync(Func<Task<bool>> holds, Func<string> what)
    {
        var clock = Stopwatch.StartNew();
        while (!await holds())
        {
            if (clock.Elapsed > Limit)
                throw new TimeoutException($"Waited {Limit.TotalSeconds} s in vain: {what()}");
            await Task.Delay(50);
        }
    }
}
