using System.CommandLine;
using System.Diagnostics;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Proof;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;
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

        var to = new Option<TrainingAddress?>("--to")
        {
            Description = "Publishes the recording to a broker for training, below training/, instead of judging it: mqtt://HOST:PORT.",
            HelpName = "URL",
            CustomParser = TrainingAddress.Parse,
        };

        var store = new Option<string?>("--store")
        {
            Description = "Keeps what the recording holds in a store: the SQLite file named, or without a name the store of the configuration.",
            HelpName = "FILE",
            Arity = ArgumentArity.ZeroOrOne,
        };

        var command = new Command("replay", "Plays a recording through the same rules that watch live, and sums up the alarms.")
        {
            recording, config, alarms, speed, to, store,
        };
        command.Validators.Add(result =>
        {
            if (result.GetResult(to) is not null && (result.GetResult(alarms) ?? result.GetResult(config) ?? result.GetResult(store)) is not null)
                result.AddError("With --to nothing is judged or kept here, the agent at that broker does it: leave --alarms, --config and --store out.");
        });
        command.SetAction((parsed, stop) =>
        {
            var request = new Request(
                parsed.GetRequiredValue(recording), parsed.GetValue(config), parsed.GetValue(alarms), parsed.GetValue(speed),
                parsed.GetResult(store) is not null, parsed.GetValue(store));
            var (output, error) = (parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error);
            return parsed.GetValue(to) is { } address ? PublishAsync(request, address, output, error, stop) : RunAsync(request, output, error, stop);
        });
        return command;
    }

    private sealed record Request(string Recording, string? Config, string? Alarms, double? Speed, bool Keeps, string? Store)
    {
        public ReplayPace? Pace => Speed is { } speed ? new ReplayPace(speed, TimeProvider.System) : null;
    }

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
        await using var kept = request.Keeps ? StoreAccess.ForWriting(StoreOf(request, options)) : null;
        var import = kept is null ? null : new RecordingImport(kept);
        var tally = new AlarmTally();
        var replay = new Replay(reader, shop, change =>
        {
            tally.Count(change);
            alarmLines?.WriteLine(System.Text.Encoding.UTF8.GetString(AlarmJson.ToUtf8(change)));
        })
        {
            Import = import,
        };

        var pace = request.Pace;
        var clock = Stopwatch.StartNew();
        var end = await PlayAsync(progress => replay.RunAsync(pace, progress, stop), reader, error).ConfigureAwait(false);
        alarmLines?.Flush();
        if (import is not null)
        {
            await KeepAsync(import, StoreOf(request, options).Path, error, stop).ConfigureAwait(false);
            await SealAsync(kept!, StoreOf(request, options), options.Evidence, error, stop).ConfigureAwait(false);
        }


        var dataOnOutput = request.Alarms == "-";
        ReplaySummary.Print(
            replay, tally, clock.Elapsed, dataOnOutput ? error : output, !dataOnOutput && output == Console.Out && !Console.IsOutputRedirected);
        return End(end, request.Recording, reader.Counts, error);
    }

    private static StoreOptions StoreOf(Request request, LaserWatchOptions options) =>
        request.Store is { } file ? options.Store with { Path = file, Influx = null } : options.Store;

    /// <summary>What was played up to a fault of the recording is kept too.</summary>
    private static async Task KeepAsync(RecordingImport import, string path, TextWriter error, CancellationToken stop)
    {
        try
        {
            await import.CompleteAsync(stop).ConfigureAwait(false);
        }
        catch (StoreException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }

        await error.WriteLineAsync($"{path}: {import.Samples} sample(s) and {import.Events} event(s) kept").ConfigureAwait(false);
    }

    /// <summary>What was kept is sealed at once, as the agent seals what it has stored: an entry says when that was.</summary>
    private static async Task SealAsync(ITelemetryStore store, StoreOptions place, EvidenceOptions evidence, TextWriter error, CancellationToken stop)
    {
        try
        {
            var keeper = new EvidenceKeeper(place, evidence, NullLogger.Instance);
            var outcome = await keeper.SealAsync(store, Instant.From(TimeProvider.System.GetUtcNow()), stop).ConfigureAwait(false);
            await error.WriteLineAsync($"{EvidenceFolder.Of(place).Path}: {outcome.Days} day(s) sealed").ConfigureAwait(false);
        }
        catch (Exception fault) when (fault is EvidenceException or StoreException)
        {
            throw new CommandException(ExitCode.Unreachable, $"kept, but not sealed: {fault.Message}");
        }
    }

    private static async Task<int> PublishAsync(Request request, TrainingAddress to, TextWriter output, TextWriter error, CancellationToken stop)
    {
        using var reader = Open(request.Recording, new ChannelTable());
        AgentCall line;
        try
        {
            line = await AgentCall.OpenAsync(new ConfiguredBroker { Host = to.Host, Port = to.Port, ClientId = "training" }, [], stop).ConfigureAwait(false);
        }
        catch (IOException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }

        await using (line.ConfigureAwait(false))
        {
            var publisher = new RecordingPublisher(reader, line, to.Prefix, request.Pace);
            var end = await PlayAsync(progress => publisher.RunAsync(progress, stop), reader, error).ConfigureAwait(false);
            await output.WriteLineAsync($"published {publisher.Published} message(s) to {to.Host}:{to.Port} below {to.Prefix}/laserwatch").ConfigureAwait(false);
            return End(end, request.Recording, reader.Counts, error);
        }
    }

    /// <summary>Tells what was not read; the exit status by what ended the replay early, if something did.</summary>
    private static int End(Exception? end, string recording, RecordingCounts counts, TextWriter error)
    {
        foreach (var unread in counts.FirstUnread)
            error.WriteLine($"{recording}: {unread}; skipped");
        if (counts.Unread > counts.FirstUnread.Count)
            error.WriteLine($"{recording}: and {counts.Unread - counts.FirstUnread.Count} more lines that could not be read");
        return end switch
        {
            null => (int)ExitCode.Done,
            OperationCanceledException => throw new CommandException(
                ExitCode.FoundWanting, $"stopped after line {counts.Lines} of {recording}; the summary tells of what was played."),
            _ => throw new CommandException(
                ExitCode.Unreachable, $"{recording} ended at line {counts.Lines}: {end.Message} The summary tells of what was played; mend that and play it again."),
        };
    }

    /// <summary>Plays to the end, with a progress bar on a terminal; returns what ended it early, if something did.</summary>
    private static async Task<Exception?> PlayAsync(Func<Action?, Task> play, RecordingReader reader, TextWriter error)
    {
        try
        {
            if (error != Console.Error || Console.IsErrorRedirected)
            {
                await play(null).ConfigureAwait(false);
                return null;
            }

            var console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(error) });
            await console.Progress().AutoClear(true).Columns(
                new TaskDescriptionColumn(), new ProgressBarColumn(), new PercentageColumn(), new RemainingTimeColumn()).StartAsync(
                async progress =>
                {
                    var bar = progress.AddTask("replay", maxValue: Math.Max(1, reader.Length ?? 1));
                    bar.IsIndeterminate = reader.Length is null;
                    await play(() => bar.Value = reader.Position).ConfigureAwait(false);
                }).ConfigureAwait(false);
            return null;
        }
        catch (Exception e) when (e is OperationCanceledException or IOException or InvalidDataException)
        {
            return e;
        }
        catch (StoreException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
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
