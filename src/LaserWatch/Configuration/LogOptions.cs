using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Configuration;

/// <summary>How grave a line of the log is, by the words of RFC 5424, section 6.2.1, gravest first.</summary>
public enum LogSeverity
{
    Emergency,
    Alert,
    Critical,
    Error,
    Warning,
    Notice,
    Informational,
    Debug,
}

/// <summary>The agent's own log. Alarms and samples are kept in the store whatever is set here.</summary>
public sealed record LogOptions
{
    /// <summary>The least severity that is worth a line, by RFC 5424's words; the agent itself says nothing graver than <c>critical</c>. <c>debug</c> shows every rejected message and fills the disk sooner; <c>warning</c> hides starts, stops and reconnections.</summary>
    public LogSeverity Level { get; init; } = LogSeverity.Informational;

    /// <summary>Folder of the log files, one a day, relative to the configuration file's folder; null: no files, only the console.</summary>
    [StringLength(4096, MinimumLength = 1)]
    public string? Folder { get; init; }

    /// <summary>Log files kept. Higher: a longer look back, and more disk.</summary>
    [Range(1, 1000)]
    public int KeepFiles { get; init; } = 14;

    /// <summary>Megabytes at which a new log file is begun within the day. With <c>keepFiles</c> it bounds the disk that logs take.</summary>
    [Range(1, 1000)]
    public int MaxFileMegabytes { get; init; } = 10;
}
