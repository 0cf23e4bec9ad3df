namespace LaserWatch.Cli;

/// <summary>What the process says to its caller when it ends.</summary>
public enum ExitCode
{
    Done = 0,

    /// <summary>It ran, and found what it was asked about wanting; each verb says what that means.</summary>
    FoundWanting = 1,

    /// <summary>The command line or the configuration is wrong.</summary>
    BadUsage = 2,

    /// <summary>A file, broker or store that it needs could not be reached or read.</summary>
    Unreachable = 3,
}
