using System.CommandLine;
using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Practice;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch practise</c>: a training case in the terminal, then its debrief.</summary>
/// <remarks>Exit status 1: the right cause was not named.</remarks>
public static class PractiseCommand
{
    private const int LongestName = 60;
    private const string Stopped = "stopped before the debrief; nothing was added to the results.";

    public static Command Create()
    {
        var practised = new Argument<string>("CASE") { Description = CaseArgument.Description };
        var speed = new Option<double>("--speed")
        {
            Description = "Recording seconds a second, 1 to 1000; the keys 1 to 9 change it.",
            HelpName = "N",
            DefaultValueFactory = _ => 20,
        };
        speed.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<double>() is not (>= PracticePace.Slowest and <= PracticePace.Fastest))
                result.AddError("--speed is 1 to 1000.");
        });
        var log = new Option<string?>("--log") { Description = "Where the result is added, a JSON object a line, instead of practice.ndjson in your data folder.", HelpName = "FILE" };
        var name = new Option<string?>("--name") { Description = "Who practises; kept with the result. Without it no name is kept.", HelpName = "NAME" };
        name.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<string?>() is { } given && (given.Length is 0 or > LongestName || given.Any(char.IsControl)))
                result.AddError($"--name is 1 to {LongestName} characters, without control characters.");
        });
        var plain = new Option<bool>("--plain") { Description = "Draws with ASCII characters only, without colour." };
        var script = new Option<string?>("--script") { Description = "Does what a file says instead of asking a person, as fast as it can: lines 'at SECONDS ACT'.", HelpName = "FILE" };
        var config = SharedOptions.Config();
        var command = new Command("practise", "Plays a training case in the terminal: watch, acknowledge, ask, name the cause; then a debrief.")
        {
            practised, speed, log, name, plain, script, config,
        };
        command.Validators.Add(result =>
        {
            if (result.GetResult(script) is not null && (result.GetResult(speed) is { Implicit: false } || result.GetResult(plain) is { Implicit: false }))
                result.AddError("A script plays as fast as it can and draws nothing: leave --speed and --plain out.");
        });
        command.SetAction((parsed, stop) => RunAsync(
            new Request(
                parsed.GetRequiredValue(practised), parsed.GetValue(speed), parsed.GetValue(log), parsed.GetValue(name), parsed.GetValue(plain),
                parsed.GetValue(script), parsed.GetValue(config)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private sealed record Request(string Case, double Speed, string? Log, string? Name, bool Plain, string? Script, string? Config);

    private static async Task<int> RunAsync(Request request, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var terminal = request.Script is null ? PractiseTerminal.Require(output, request.Plain) : null;
        var acts = request.Script is { } file ? PractiseScripted.Read(file) : [];
        var options = SharedOptions.Read(request.Config);
        var model = options.Causes ?? CausesFile.ReadBuiltIn();
        var practised = CaseArgument.Open(request.Case, model);
        using var log = OpenLog(request.Log);
        try
        {
            using var session = Begin(practised, options, model, request.Name);
            double? speed = null;
            if (terminal is null)
            {
                PractiseScripted.Play(session, acts, request.Script!, output, stop);
            }
            else
            {
                speed = await terminal.PlayAsync(session, request.Speed, stop);
                if (speed is null)
                    throw new CommandException(ExitCode.FoundWanting, Stopped);
            }

            var debrief = PracticeDebrief.Of(session);
            Keep(log, DebriefJson.Line(debrief, new PracticeCircumstances(Instant.From(TimeProvider.System.GetUtcNow()), request.Name, speed)));
            if (terminal is not null)
                await terminal.ShowDebriefAsync(debrief, stop);
            foreach (var line in DebriefText.Lines(debrief, terminal?.Width ?? PractiseScripted.Width))
                await output.WriteLineAsync(line);
            if (session.Counts.Unread > 0)
                await error.WriteLineAsync($"{session.Counts.Unread} line(s) of the recording could not be read and were skipped; the first: {session.Counts.FirstUnread[0]}");
            return (int)(debrief.Verdict == PracticeVerdict.Right ? ExitCode.Done : ExitCode.FoundWanting);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            throw new CommandException(ExitCode.FoundWanting, Stopped);
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"the case {practised.Name} cannot be practised to its end: {e.Message}");
        }
    }

    private static PracticeSession Begin(TrainingCase practised, LaserWatchOptions options, Diagnosis.CauseModel model, string? name)
    {
        var channels = new ChannelTable();
        foreach (var (channel, unit) in options.DeclaredUnits())
            channels.Declare(channel, unit);
        return new PracticeSession(practised, model, practised.ReadRecording(channels), new Shop(options.OfNoMachine().RulesOf, new JobBook()), name ?? "trainee");
    }

    private static void Keep(ResultsLog log, byte[] line)
    {
        try
        {
            log.Add(line);
        }
        catch (IOException e)
        {
            throw new CommandException(ExitCode.Unreachable, $"the result cannot be kept: {e.Message} Make room there, or give another file by --log.");
        }
    }

    private static ResultsLog OpenLog(string? given)
    {
        var path = given ?? ResultsLog.DefaultPath
            ?? throw new CommandException(ExitCode.Unreachable, "your user has no data folder to keep the result in: give a file by --log.");
        try
        {
            return ResultsLog.Open(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot keep the result in {path}: {e.Message} Give another file by --log.");
        }
    }
}
