using LaserWatch.Configuration;
using Serilog;
using Serilog.Core;
using Serilog.Events;

namespace LaserWatch;

/// <summary>The agent's own log: console and, where a folder is set, a file a day.</summary>
public static class AgentLog
{
    /// <summary>Dispose it last: that writes out what is still on its way to the file.</summary>
    public static Logger Create(LogOptions options)
    {
        // To standard error: standard output is for data. The host's own talk of starting and stopping says nothing of ours.
        var log = new LoggerConfiguration()
            .MinimumLevel.Is(LeastOf(options.Level))
            .MinimumLevel.Override("Microsoft", LogEventLevel.Warning)
            .WriteTo.Console(new LogLine(withOrigin: false), standardErrorFromLevel: LogEventLevel.Verbose);
        if (options.Folder is not null)
        {
            log = log.WriteTo.File(
                new LogLine(withOrigin: true), Path.Combine(options.Folder, "laserwatch-.log"),
                rollingInterval: RollingInterval.Day, retainedFileCountLimit: options.KeepFiles,
                fileSizeLimitBytes: options.MaxFileMegabytes * 1024L * 1024L, rollOnFileSizeLimit: true);
        }

        return log.CreateLogger();
    }

    // Nothing of the agent's is a notice, an alert or an emergency: what is graver than those shows.
    private static LogEventLevel LeastOf(LogSeverity severity) => severity switch
    {
        LogSeverity.Debug => LogEventLevel.Debug,
        LogSeverity.Informational => LogEventLevel.Information,
        LogSeverity.Notice or LogSeverity.Warning => LogEventLevel.Warning,
        LogSeverity.Error => LogEventLevel.Error,
        LogSeverity.Critical => LogEventLevel.Fatal,
        _ => LevelAlias.Off,
    };
}
