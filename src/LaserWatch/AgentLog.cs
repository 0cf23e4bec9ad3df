using System.Globalization;
using LaserWatch.Configuration;
using Serilog;
using Serilog.Core;
using Serilog.Events;

namespace LaserWatch;

/// <summary>The agent's own log: console and, where a folder is set, a file a day.</summary>
public static class AgentLog
{
    private const string ConsoleLine = "{Timestamp:HH:mm:ss} {Level:u3} {Message:lj}{NewLine}{Exception}";
    private const string FileLine = "{Timestamp:yyyy-MM-ddTHH:mm:ss.fffzzz} {Level:u3} {SourceContext} {Message:lj}{NewLine}{Exception}";

    /// <summary>Dispose it last: that writes out what is still on its way to the file.</summary>
    public static Logger Create(LogOptions options)
    {
        var least = options.Level switch
        {
            LogDetail.Debug => LogEventLevel.Debug,
            LogDetail.Warning => LogEventLevel.Warning,
            LogDetail.Error => LogEventLevel.Error,
            _ => LogEventLevel.Information,
        };
        // To standard error: standard output is for data. The host's own talk of starting and stopping says nothing of ours.
        var log = new LoggerConfiguration()
            .MinimumLevel.Is(least)
            .MinimumLevel.Override("Microsoft", LogEventLevel.Warning)
            .WriteTo.Console(
                outputTemplate: ConsoleLine, formatProvider: CultureInfo.InvariantCulture, standardErrorFromLevel: LogEventLevel.Verbose);
        if (options.Folder is not null)
        {
            log = log.WriteTo.File(
                Path.Combine(options.Folder, "laserwatch-.log"), outputTemplate: FileLine, formatProvider: CultureInfo.InvariantCulture,
                rollingInterval: RollingInterval.Day, retainedFileCountLimit: options.KeepFiles,
                fileSizeLimitBytes: options.MaxFileMegabytes * 1024L * 1024L, rollOnFileSizeLimit: true);
        }

        return log.CreateLogger();
    }
}
