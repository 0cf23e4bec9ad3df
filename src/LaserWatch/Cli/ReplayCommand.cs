using System.CommandLine;
using System.CommandLine.Parsing;
using System.Diagnostics;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
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
            Description = "Publishes the recording to a broker for training, below training/, instead of judging it: mqtt://HOST:PORT, mqtts:// with TLS. --config says how to log in.",
            HelpName = "URL",
            CustomParser = TrainingAddress.Parse,
        };

        var retime = new Option<string>("--retime")
        {
            Description = "With --to: now, the messages bear times of today, up to the present; or original, the recording's own.",
            DefaultValueFactory = _ => "now",
        };
        retime.AcceptOnlyFromAmong("now", "original");
        var control = new Option<bool>("--control") { Description = $"With --to: takes controls from standard input, a line each: {ReplayControlText.Known}." };
        var ontoLive = new Option<bool>("--onto-live-topics") { Description = "With --to: publishes on the topics of real machines, unless one is heard there." };
        var althoughLive = new Option<bool>("--although-live") { Description = "With --onto-live-topics: even where a real machine or an agent is heard." };

        var store = new Option<string?>("--store")
        {
            Description = "Keeps what the recording holds in a store: the SQLite file named, or without a name the store of the configuration.",
            HelpName = "FILE",
            Arity = ArgumentArity.ZeroOrOne,
        };

        var command = new Command("replay", "Plays a recording through the same rules that watch live, and sums up the alarms.")
        {
            recording, config, alarms, speed, to, retime, control, ontoLive, althoughLive, store,
        };
        command.Validators.Add(result =>
        {
            if (result.GetResult(to) is not null)
            {
                if ((result.GetResult(alarms) ?? result.GetResult(store)) is not null)
                    result.AddError("With --to nothing is judged or kept here, the agent at that broker does it: leave --alarms and --store out.");
                if (result.GetValue(speed) is < ReplaySpeed.Least or > ReplaySpeed.Most)
                    result.AddError($"With --to, --speed is {ReplaySpeed.Words}.");
                if (result.GetResult(althoughLive) is { Implicit: false } && result.GetResult(ontoLive) is not { Implicit: false })
                    result.AddError("--although-live goes with --onto-live-topics: below training/ there is no live machine.");
            }
            else if (new[] { (OptionResult?)result.GetResult(retime), result.GetResult(control), result.GetResult(ontoLive), result.GetResult(althoughLive) }.Any(given => given is { Implicit: false }))
            {
                result.AddError("--retime, --control, --onto-live-topics and --although-live go with --to.");
            }
        });
        command.SetAction((parsed, stop) =>
        {
            var request = new Request(
                parsed.GetRequiredValue(recording), parsed.GetValue(config), parsed.GetValue(alarms), parsed.GetValue(speed),
                parsed.GetResult(store) is not null, parsed.GetValue(store));
            var (output, error) = (parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error);
            if (parsed.GetValue(to) is not { } address)
                return RunAsync(request, output, error, stop);
            var publishing = new ReplayPublishing(
                request.Recording, address, request.Config, request.Speed, parsed.GetValue(retime) == "original" ? Retiming.Original : Retiming.Now,
                parsed.GetValue(control), parsed.GetValue(ontoLive), parsed.GetValue(althoughLive));
            return publishing.RunAsync(output, error, stop);
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
        await using var kept = request.Keeps ? StoreAccess.ForWriting(WithMark(StoreOf(request, options), reader)) : null;
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

    /// <summary>A recording of training data makes a store of them, and a store of training data may take any recording.</summary>
    private static StoreOptions WithMark(StoreOptions store, RecordingReader reader)
    {
        try
        {
            reader.ReadHead();
        }
        catch (Exception e) when (e is IOException or InvalidDataException)
        {
            // The fault is met again, and told, when it is played; nothing comes before it.
        }

        return store with { Training = store.Training || reader.IsTraining || StoreAccess.HoldsTraining(store) };
    }

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

    /// <summary>Tells what was not read; the exit status by what ended the replay early, if something did.</summary>
    private static int End(Exception? end, string recording, RecordingCounts counts, TextWriter error)
    {
        TellUnread(recording, counts, error);
        return end switch
        {
            null => (int)ExitCode.Done,
            OperationCanceledException => throw new CommandException(
                ExitCode.FoundWanting, $"stopped after line {counts.Lines} of {recording}; the summary tells of what was played."),
            _ => throw new CommandException(
                ExitCode.Unreachable, $"{recording} ended at line {counts.Lines}: {end.Message} The summary tells of what was played; mend that and play it again."),
        };
    }

    internal static void TellUnread(string recording, RecordingCounts counts, TextWriter error)
    {
        foreach (var unread in counts.FirstUnread)
            error.WriteLine($"{recording}: {unread}; skipped");
        if (counts.Unread > counts.FirstUnread.Count)
            error.WriteLine($"{recording}: and {counts.Unread - counts.FirstUnread.Count} more lines that could not be read");
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

    internal static RecordingReader Open(string path, ChannelTable channels)
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
