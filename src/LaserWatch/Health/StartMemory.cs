using System.Globalization;
using System.Runtime.InteropServices;
using Microsoft.Extensions.Hosting;

namespace LaserWatch.Health;

/// <summary>Gives back the memory that only the start needed, the compiling of what is often used, or the sealing of a day: half of what an idle agent would hold for years.</summary>
/// <remarks>
/// The start runs through most of the program's code, and its pages stay mapped until the board is short of memory and something else was
/// thrown out. Unmapped they come again one by one where the watch needs them, and mostly from the page cache.
/// </remarks>
internal sealed class StartMemory(TimeProvider time) : BackgroundService
{
    private const int DoNotNeed = 4; // MADV_DONTNEED

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
            GiveBack();
        }
    }

    private static void GiveBack()
    {
        GC.Collect(GC.MaxGeneration, GCCollectionMode.Aggressive, blocking: true, compacting: true);
        if (!OperatingSystem.IsLinux())
            return;
        NativeHeap.GiveBack();
        foreach (var (from, length) in CodeOf(File.ReadLines("/proc/self/smaps"), Environment.ProcessPath ?? ""))
            _ = Advise(from, length, DoNotNeed); // where the kernel refuses, the pages stay
    }

    /// <summary>Mappings of code that are as they stand in their files: nothing is lost with them, and no library of ours is ever unloaded.</summary>
    /// <param name="smaps">Lines of the kernel's <c>smaps</c>.</param>
    /// <param name="program">Of this file the constants too; those of libraries may be moved by whoever loads one.</param>
    internal static List<(nint From, nuint Length)> CodeOf(IEnumerable<string> smaps, string program)
    {
        List<(nint, nuint)> found = [];
        (nint From, nuint Length)? open = null;
        foreach (var line in smaps)
        {
            var words = line.Split(' ', StringSplitOptions.RemoveEmptyEntries);
            if (words is [var span, { Length: 4 } rights, _, _, _, ..] && !span.EndsWith(':'))
            {
                var file = words.Length > 5 ? string.Join(' ', words[5..]) : "";
                var isCode = file.StartsWith('/') && !file.EndsWith(" (deleted)", StringComparison.Ordinal) && (rights == "r-xp" || (rights is "r--p" or "r--s" && file == program));
                open = isCode ? Span(span) : null;
            }
            else if (words is ["Anonymous:", var own, ..] && open is { } clean)
            {
                // A page that was written to is the process's own, and would be lost.
                if (own == "0")
                    found.Add(clean);
                open = null;
            }
        }

        return found;
    }

    private static (nint From, nuint Length) Span(string span)
    {
        var ends = span.Split('-');
        var (from, to) = (ulong.Parse(ends[0], NumberStyles.HexNumber, CultureInfo.InvariantCulture), ulong.Parse(ends[1], NumberStyles.HexNumber, CultureInfo.InvariantCulture));
        return ((nint)from, (nuint)(to - from));
    }

    [DllImport("libc", EntryPoint = "madvise", SetLastError = true)]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Advise(nint address, nuint length, int advice);
}
