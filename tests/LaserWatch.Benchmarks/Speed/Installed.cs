using LaserWatch.Reports;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>The one place where tests and benches look for servers and tools that are not ours, and for our published programs.</summary>
public static class Installed
{
    /// <summary>Set to 1 it hides them all, as if this machine had nothing but the SDK.</summary>
    public const string Switch = "LASERWATCH_BARE";

    // Debian keeps servers in sbin, which is not on everybody's PATH.
    private static readonly string[] Besides = ["/usr/local/sbin", "/usr/sbin", "/opt/homebrew/sbin"];

    public static bool IsHidden { get; } = Environment.GetEnvironmentVariable(Switch) == "1";

    /// <summary>The path of a program; null where it is not installed.</summary>
    public static string? Program(string name) => IsHidden
        ? null
        : (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator).Concat(Besides)
            .Select(folder => Path.Combine(folder, OperatingSystem.IsWindows() ? name + ".exe" : name)).FirstOrDefault(File.Exists);

    /// <summary>The browser that the agent itself would take; null where there is none.</summary>
    public static string? Browser() => IsHidden ? null : PagePrinter.Find();

    /// <summary>What a variable such as <c>LASERWATCH_SMALL</c> names; null where it is not set.</summary>
    /// <exception cref="MissingPartException">It names a file that is not there.</exception>
    public static string? Published(string variable) => IsHidden || Environment.GetEnvironmentVariable(variable) is not { Length: > 0 } file
        ? null
        : File.Exists(file) ? Path.GetFullPath(file) : throw new MissingPartException($"{variable} names {file}, which is not there");
}
