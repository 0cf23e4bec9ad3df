namespace LaserWatch.Cli;

/// <summary>Ends a verb with one line on standard error: what is wrong, where, and the mend.</summary>
public sealed class CommandException(ExitCode code, string message) : Exception(message)
{
    public ExitCode Code { get; } = code;
}
