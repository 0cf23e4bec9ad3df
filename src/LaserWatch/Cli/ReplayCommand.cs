using System.CommandLine;
using System.Diagnostics;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Spectre.Console;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch replay</c>: a recording through the watch, as fast as it can or at a set speed.</summary>
public static class ReplayCommand
{
    public static Command Create()
    {
        var recording = new Argument<string>("RECORDING") { Description = "The recording, .lp or .lp.gz; - reads standard input." };
        var config = SharedOptions.Config();
        var alarms = new Option<string?>("--alarms")
        {
            Description = "Writes every alarm transition, one JSON object a line; - writes to standard output.",
            HelpName = "FILE",
        };
        var speed = new Option<double?>("--speed")
        {
            Description = "Recording seconds a second; 1 is real time. Without it, as fast as it can.",
            HelpName = "N",
        };
        speed.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<double?>() is not (null or (> 0 and <= 1e6)))
                result.AddError("--speed must be above 0, and at most 1000000.");
        });

        var command = new Command("replay", "Plays a recording through the same rules that watch live, and sums up the alarms.")
        {
            recording, config, alarms, speed,
        };
        command.SetAction((parsed, stop) => RunAsync(
            new Request(
                parsed.GetRequiredValue(recording), parsed.GetValue(config), parsed.GetValue(alarms), parsed.GetValue(speed)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private sealed record Request(string Recording, string? Config, string? Alarms, double? Speed);

    private static async Task<int> RunAsync(Request request, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = SharedOptions.Read(request.Config);
        var channels = new ChannelTable();
        foreach (var (channel, unit) in options.DeclaredUnits())
            channels.Declare(channel, unit);
        var jobs = new JobBook();
        foreach (var record in options.JobRecords)
            jobs.Add(record);
        var shop = new Shop(options.RulesOf, jobs);

        using var reader = Open(request.Recording, channels);
        using var alarmFile = OpenAlarms(request.Alarms);
        var alarmLines = request.Alarms == "-" ? output : alarmFile;
        var tally = new AlarmTally();
        var replay = new Replay(reader, shop, change =>
        {
            tally.Count(change);
            alarmLines?.WriteLine(System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(change)));
        });

        var pace = request.Speed is { } speed ? new ReplayPace(speed, TimeProvider.System) : null;
        var clock = Stopwatch.StartNew();
        var end = await PlayAsync(replay, reader, pace, error, stop).ConfigureAwait(false);
        alarmLines?.Flush();

        var dataOnOutput = request.Alarms == "-";
        ReplaySummary.Print(
            replay, tally, clock.Elapsed, dataOnOutput ? error : output, !dataOnOutput && output == Console.Out && !Console.IsOutputRedirected);
        foreach (var unread in replay.Counts.FirstUnread)
            await error.WriteLineAsync($"{request.Recording}: {unread}; skipped").ConfigureAwait(false);
        if (replay.Counts.Unread > replay.Counts.FirstUnread.Count)
            await error.WriteLineAsync($"{request.Recording}: and {replay.Counts.Unread - replay.Counts.FirstUnread.Count} more lines that could not be read").ConfigureAwait(false);

        switch (end)
        {
            case null:
                return (int)ExitCode.Done;
            case OperationCanceledException:
                throw new CommandException(ExitCode.FoundWanting, $"stopped after line {replay.Counts.Lines} of {request.Recording}; the summary tells of what was played.");
            default:
                throw new CommandException(
                    ExitCode.Unreachable,
                    $"cannot read {request.Recording} beyond line {replay.Counts.Lines}: {end.Message} The summary tells of what was played; fetch the recording again.");
        }
    }

    /// <summary>Plays to the end; returns what ended it early, if something did.</summary>
    private static async Task<Exception?> PlayAsync(
        Replay replay, RecordingReader reader, ReplayPace? pace, TextWriter error, CancellationToken stop)
    {
        try
        {
            if (error != Console.Error || Console.IsErrorRedirected)
            {
                await replay.RunAsync(pace, null, stop).ConfigureAwait(false);
                return null;
            }

            var console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(error) });
            await console.Progress().AutoClear(true).Columns(
                new TaskDescriptionColumn(), new ProgressBarColumn(), new PercentageColumn(), new RemainingTimeColumn()).StartAsync(
                async progress =>
                {
                    var bar = progress.AddTask("replay", maxValue: Math.Max(1, reader.Length ?? 1));
                    bar.IsIndeterminate = reader.Length is null;
                    await replay.RunAsync(pace, () => bar.Value = reader.Position, stop).ConfigureAwait(false);
                }).ConfigureAwait(false);
            return null;
        }
        catch (Exception e) when (e is OperationCanceledException or IOException or InvalidDataException)
        {
            return e;
        }
    }

    private static RecordingReader Open(string path, ChannelTable channels)
    {
        try
        {
            return path == "-" ? new RecordingReader(Console.OpenStandardInput(), channels) : RecordingReader.Open(path, channels);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording {path}: {e.Message}");
        }
    }

    private static StreamWriter? OpenAlarms(string? path)
    {
        if (path is null or "-")
            return null;
        try
        {
            return new StreamWriter(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write the alarms to {path}: {e.Message}");
        }
    }
}
