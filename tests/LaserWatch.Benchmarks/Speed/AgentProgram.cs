using System.Diagnostics;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>A program that is measured as a process: a published agent, or the bare worker beside it.</summary>
/// <param name="Name">As the table names it.</param>
public sealed record AgentProgram(string Name, string File, params string[] First)
{
    /// <summary>The word by which this very program becomes the bare worker: the libraries' client, connected and subscribed, and nothing else.</summary>
    public const string BareRole = "bare-worker";

    public static AgentProgram BareWorker { get; } = new("bare worker", "dotnet", typeof(AgentProgram).Assembly.Location, BareRole);

    /// <summary>The agent as it was built beside the benchmarks, compiled at run time.</summary>
    private static AgentProgram Plain { get; } = new("plain build", "dotnet", Path.Combine(AppContext.BaseDirectory, "laserwatch.dll"));

    /// <summary>What <c>LASERWATCH_PUBLISHED</c> (the full build) and <c>LASERWATCH_SMALL</c> (the small one) name; in a short run without them, the plain build.</summary>
    /// <exception cref="MissingPartException">A whole measurement has nothing to measure.</exception>
    public static IReadOnlyList<AgentProgram> Agents(Length length)
    {
        List<AgentProgram> found = [];
        foreach (var (name, variable) in new[] { ("full build", "LASERWATCH_PUBLISHED"), ("small build", "LASERWATCH_SMALL") })
        {
            if (Installed.Published(variable) is { } file)
                found.Add(new(name, file));
        }

        if (found.Count == 0 && length == Length.Smoke)
            found.Add(Plain);
        return found.Count > 0 ? found : throw new MissingPartException("neither LASERWATCH_PUBLISHED nor LASERWATCH_SMALL names a published program");
    }

    public bool IsSmall => Name == "small build";

    public Process Start(string folder, params string[] arguments)
    {
        var start = new ProcessStartInfo(File, [.. First, .. arguments]) { RedirectStandardOutput = true, RedirectStandardError = true, WorkingDirectory = folder };
        // As the unit and the image start it.
        start.Environment["MALLOC_ARENA_MAX"] = "1";
        start.Environment["DOTNET_BUNDLE_EXTRACT_BASE_DIR"] = Path.Combine(folder, "native");
        var process = Process.Start(start)!;
        process.OutputDataReceived += (_, _) => { };
        process.ErrorDataReceived += (_, _) => { };
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        return process;
    }
}
