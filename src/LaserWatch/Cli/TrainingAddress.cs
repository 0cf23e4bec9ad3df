using System.CommandLine.Parsing;

namespace LaserWatch.Cli;

/// <summary>Where a recording is published: a broker, and the first levels of the topics.</summary>
/// <param name="Path">The levels that the address gives; empty: none.</param>
/// <param name="Encrypted">The address asks for TLS.</param>
public sealed record TrainingAddress(string Host, int Port, string Path, bool Encrypted)
{
    private const string Prefix = "training";
    private const string Mend = "write mqtt://HOST:PORT, or mqtt://HOST:PORT/training/NAME";

    /// <summary>For the command line: adds the mistake to the result where there is one.</summary>
    public static TrainingAddress? Parse(ArgumentResult result)
    {
        var text = result.Tokens[0].Value;
        if (!Uri.TryCreate(text, UriKind.Absolute, out var url) || url.Scheme is not ("mqtt" or "mqtts") || url.Host.Length == 0
            || url.Query.Length > 0 || url.Fragment.Length > 0)
        {
            result.AddError($"--to '{text}' is no address of a broker: {Mend}; mqtts:// for TLS.");
            return null;
        }

        if (url.UserInfo.Length > 0)
        {
            // The text is not repeated: it holds the password.
            result.AddError("--to takes no user and password, which others on the machine could read: give them by --config, or by the environment's LASERWATCH_USER and LASERWATCH_PASSWORD.");
            return null;
        }

        var path = Uri.UnescapeDataString(url.AbsolutePath).Trim('/');
        if (path.AsSpan().ContainsAny('+', '#', '\0') || path.Contains("//", StringComparison.Ordinal))
        {
            result.AddError($"--to '{text}' does not name topics that can be published on: leave '+', '#' and empty levels out.");
            return null;
        }

        var encrypted = url.Scheme == "mqtts";
        return new TrainingAddress(url.IdnHost.Trim('[', ']'), url.Port >= 0 ? url.Port : encrypted ? 8883 : 1883, path, encrypted);
    }

    /// <summary>The first levels of every topic: below <c>training</c>, or, where that is allowed, a live machine's.</summary>
    /// <param name="liveRoot">The live machines' own, taken where the address names no levels.</param>
    /// <exception cref="CommandException">The address leads out of the training topics, and nobody allowed it.</exception>
    public string TopicRoot(bool ontoLiveTopics, string liveRoot)
    {
        if (ontoLiveTopics)
            return Path.Length == 0 ? liveRoot : Path;
        var prefix = Path.Length == 0 ? Prefix : Path;
        if (prefix == Prefix || prefix.StartsWith(Prefix + "/", StringComparison.Ordinal))
            return prefix + "/laserwatch";
        throw new CommandException(
            ExitCode.BadUsage,
            $"--to publishes below '{Prefix}' only, so that a recording is never taken for live samples: {Mend}, or add --onto-live-topics.");
    }
}
