using LaserWatch.Configuration;

namespace LaserWatch.Cli;

/// <summary>Which configuration the verbs around the agent take: the named file, else the installed one, else what holds without any.</summary>
public static class AgentConfiguration
{
    public static string Installed { get; } = OperatingSystem.IsWindows()
        ? Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.CommonApplicationData), "LaserWatch", "laserwatch.json")
        : "/etc/laserwatch/laserwatch.json";

    /// <param name="told">In words for standard error: which one it is.</param>
    /// <exception cref="CommandException">The file has mistakes: all of them, a line each.</exception>
    public static LaserWatchOptions Read(string? path, out string told)
    {
        path ??= File.Exists(Installed) ? Installed : null;
        told = path is null
            ? $"no configuration file ({Installed} is not there, --config names none): embedded broker, store in {Path.GetFullPath(LaserWatchOptions.Default.Store.Path)}"
            : $"configuration {Path.GetFullPath(path)}";
        return SharedOptions.Read(path);
    }

    /// <summary>For a verb that speaks to the agent as the person who gives it, and needs none of the agent's secrets.</summary>
    /// <exception cref="CommandException">The file has mistakes: all of them, a line each.</exception>
    public static LaserWatchOptions ReadAsPerson(string? path) => SharedOptions.ReadAsPerson(path ?? (File.Exists(Installed) ? Installed : null));

    /// <inheritdoc cref="Read(string?, out string)"/>
    public static LaserWatchOptions Read(string? path) => Read(path, out _);
}
