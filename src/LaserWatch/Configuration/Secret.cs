namespace LaserWatch.Configuration;

/// <summary>Where a password stands: in an environment variable or in a file, exactly one of them, and never in this file.</summary>
public sealed record Secret : ICheckedOptions
{
    /// <summary>A password file larger than this is no password file.</summary>
    public const int MostBytes = 64 * 1024;

    /// <summary>The name of the environment variable that holds the secret.</summary>
    public string? Env { get; init; }

    /// <summary>The file that holds the secret, relative to the configuration file's folder; a line break at its end is not part of it.</summary>
    public string? File { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (string.IsNullOrEmpty(Env) == string.IsNullOrEmpty(File))
            yield return new("", "a secret has exactly one place", "write either {\"env\": \"NAME\"} or {\"file\": \"path\"}");
    }

    /// <summary>The secret itself, read anew at every call, so that a changed password needs no restart.</summary>
    /// <param name="wrong">Why it cannot be had and what puts it right; never the secret.</param>
    public string? Read(Func<string, string?> environment, out OptionMistake? wrong)
    {
        wrong = null;
        if (Env is { Length: > 0 })
        {
            if (environment(Env) is { Length: > 0 } value)
                return value;
            wrong = new("env", $"the environment variable '{Env}' is not set, or empty", "set it where the agent is started");
            return null;
        }

        try
        {
            var place = new FileInfo(File ?? "");
            if (place.Length is > 0 and <= MostBytes && System.IO.File.ReadAllText(place.FullName).TrimEnd('\r', '\n') is { Length: > 0 } text)
                return text;
            wrong = new("file", $"the file '{File}' is empty or larger than {MostBytes / 1024} KiB", "write the secret alone in it, in one line");
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            wrong = new("file", $"the file '{File}' cannot be read ({e.Message.TrimEnd('.')})", "name a file that the agent's user may read");
        }

        return null;
    }

    /// <inheritdoc cref="Read(Func{string, string?}, out OptionMistake?)"/>
    public string? Read(out OptionMistake? wrong) => Read(Environment.GetEnvironmentVariable, out wrong);
}
