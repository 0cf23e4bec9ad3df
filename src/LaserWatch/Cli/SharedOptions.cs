using System.CommandLine;
using System.CommandLine.Parsing;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>Options that several verbs have, so that they are spelled, described and read alike.</summary>
public static class SharedOptions
{
    public static Option<string?> Config() => new("--config", "-c")
    {
        Description = "The configuration file.",
        HelpName = "FILE",
    };

    public static Option<string?> Store() => new("--store")
    {
        Description = "The store, an SQLite file, instead of the one that the configuration names.",
        HelpName = "FILE",
    };

    /// <summary>Lets the command take one of the two only.</summary>
    public static void RefuseBoth(Command command, Option<string?> config, Option<string?> store) =>
        command.Validators.Add(result =>
        {
            if (result.GetResult(config) is not null && result.GetResult(store) is not null)
                result.AddError("Give --config or --store, not both.");
        });

    /// <summary>The store to read: the file named, else the configuration's.</summary>
    /// <exception cref="CommandException">The configuration has mistakes.</exception>
    public static StoreOptions StoreOf(string? config, string? store) =>
        store is null ? AgentConfiguration.Read(config).Store : new StoreOptions { Path = store };

    public static Option<Instant?> From() => Time("--from", "Nothing before this time, such as 2026-03-09T08:00:00Z.");

    public static Option<Instant?> To() => Time("--to", "Nothing at or after this time.");

    /// <summary>The configuration of a file; what holds without one where the path is null.</summary>
    /// <exception cref="CommandException">The file has mistakes: all of them, a line each.</exception>
    public static LaserWatchOptions Read(string? path)
    {
        if (path is null)
            return LaserWatchOptions.Default;
        return Require(ConfigurationFile.Read(path));
    }

    /// <summary>As <see cref="Read"/>, for a verb that speaks to the agent and needs none of its secrets.</summary>
    /// <exception cref="CommandException">The file has mistakes: all of them, a line each.</exception>
    public static LaserWatchOptions ReadAsPerson(string? path) =>
        path is null ? LaserWatchOptions.Default : Require(ConfigurationFile.ReadAsPerson(path));

    private static LaserWatchOptions Require(ConfigurationRead<LaserWatchOptions> read) =>
        read.Value ?? throw new CommandException(ExitCode.BadUsage, string.Join("\nlaserwatch: ", read.Mistakes));

    public static Option<Instant?> Time(string name, string description) => new(name)
    {
        Description = description,
        HelpName = "TIME",
        CustomParser = ReadTime,
    };

    private static Instant? ReadTime(ArgumentResult result)
    {
        var text = result.Tokens[0].Value;
        if (Rfc3339.TryParse(text, out var at) || Rfc3339.TryParse(text + "T00:00:00Z", out at))
            return at;
        result.AddError($"'{text}' is not a time: write a date, 2026-03-09, or a time with its zone, 2026-03-09T08:00:00Z.");
        return null;
    }
}
