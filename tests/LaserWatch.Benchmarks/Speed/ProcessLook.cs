using System.Diagnostics;
using System.Globalization;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>What the kernel says of a process.</summary>
internal static class ProcessLook
{
    private const double TicksPerSecond = 100; // of /proc on every Linux that .NET runs on

    /// <summary>Resident memory, MB of 10⁶ bytes: all of it, with the pages of files that are mapped.</summary>
    public static double ResidentMegabytes(Process process) => Kilobytes(process, "VmRSS:") * 1024 / 1e6;

    /// <summary>The part of it that is the process's own.</summary>
    public static double OwnMegabytes(Process process) => (Kilobytes(process, "RssAnon:") + Kilobytes(process, "RssShmem:")) * 1024 / 1e6;

    /// <summary>Processor time of all its threads so far, in user and kernel mode.</summary>
    public static TimeSpan ProcessorTime(Process process)
    {
        var line = File.ReadAllText($"/proc/{process.Id}/stat");
        var fields = line[(line.LastIndexOf(')') + 2)..].Split(' ');
        return TimeSpan.FromSeconds((double.Parse(fields[11], CultureInfo.InvariantCulture) + double.Parse(fields[12], CultureInfo.InvariantCulture)) / TicksPerSecond);
    }

    public static void SkipWhereUnknown()
    {
        if (!OperatingSystem.IsLinux())
            throw new MissingPartException("what the kernel says of a process is read from Linux");
    }

    private static double Kilobytes(Process process, string name)
    {
        foreach (var line in File.ReadLines($"/proc/{process.Id}/status"))
        {
            if (line.StartsWith(name, StringComparison.Ordinal))
                return double.Parse(line[name.Length..].Replace("kB", "", StringComparison.Ordinal), CultureInfo.InvariantCulture);
        }

        throw new InvalidOperationException($"The process ended, or the kernel does not tell {name}");
    }
}
