using System.CommandLine;
using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Demo;
using LaserWatch.Mqtt;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch demo</c>: the agent with its own broker and store, and a simulated machine that develops faults.</summary>
public static class DemoCommand
{
    /// <summary>Once the broker has taken the last sample, its alarms are judged; they only have to arrive.</summary>
    private static readonly TimeSpan LastWords = TimeSpan.FromSeconds(1);

    public static Command Create()
    {
        var write = new Option<string?>("--write")
        {
            Description = "Writes what the machine tells as a recording, .lp or .lp.gz, instead of running the agent on it.",
            HelpName = "FILE",
        };
        var tubeLife = new Option<bool>("--tube-life")
        {
            Description = "With --write: two years of one tube, from the day it was put in until it no longer cuts, with the alarms told then; the same every time.",
        };
        var command = new Command("demo", "Shows the agent at work on a simulated machine that develops faults; about a minute.") { write, tubeLife };
        command.Validators.Add(result =>
        {
            if (result.GetValue(tubeLife) && result.GetResult(write) is null)
                result.AddError("--tube-life is two years long and only written: give --write FILE.");
        });
        command.SetAction((parsed, stop) =>
        {
            if (parsed.GetValue(tubeLife))
                return WriteTubeLifeAsync(parsed.GetRequiredValue(write)!);
            var scenario = new DemoScenario(Instant.From(TimeProvider.System.GetUtcNow()));
            return parsed.GetValue(write) is { } file
                ? WriteAsync(file, to => SimulatedRecording.Write(to, DemoScenario.Machine, scenario.Jobs, scenario.Moments()))
                : RunAsync(scenario, parsed.InvocationConfiguration.Output, stop);
        });
        return command;
    }

    private static Task<int> WriteTubeLifeAsync(string file)
    {
        var scenario = new TubeLifeScenario();
        return WriteAsync(file, to => AttendedRecording.Write(to, TubeLifeScenario.Machine, scenario.Jobs, scenario.Moments()));
    }

    private static async Task<int> WriteAsync(string file, Action<Stream> write)
    {
        try
        {
            return await WholeFile.WriteAsync(
                file,
                to =>
                {
                    write(to);
                    return Task.FromResult((int)ExitCode.Done);
                }).ConfigureAwait(false);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write the recording {file}: {e.Message}");
        }
    }

    private static async Task<int> RunAsync(DemoScenario scenario, TextWriter output, CancellationToken stop)
    {
        try
        {
            await using var agent = new DemoAgent(scenario);
            var line = await agent.StartAsync(stop);
            var tally = new AlarmTally();
            var sensors = new DemoSensors(line, scenario, TimeProvider.System);
            await using (line)
            {
                await output.WriteLineAsync("The agent runs: an MQTT broker on a free port of this machine, a store in a temporary folder, and one simulated laser cutter.");
                using var enough = CancellationTokenSource.CreateLinkedTokenSource(stop);
                var showing = ShowAsync(line, tally, output, enough.Token);
                try
                {
                    await sensors.RunAsync(part => output.WriteLine($"\n== {part.Title} ({part.Speed:0} times as fast as life)"), stop);
                    enough.CancelAfter(LastWords);
                }
                catch (OperationCanceledException) when (stop.IsCancellationRequested)
                {
                    await output.WriteLineAsync("\nStopped.");
                }

                await showing;
            }

            await agent.StopAsync(CancellationToken.None);
            if (agent.Failure is { } failure)
                throw new CommandException(ExitCode.Unreachable, $"the agent ended: {failure.Message}");
            Sum(sensors, tally, output);
            return (int)ExitCode.Done;
        }
        catch (Exception e) when (e is IOException or StoreException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"the demonstration cannot run: {e.Message}");
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            return (int)ExitCode.Done; // before it began
        }
    }

    private static async Task ShowAsync(AgentCall line, AlarmTally tally, TextWriter output, CancellationToken enough)
    {
        try
        {
            await foreach (var (topic, payload) in line.Heard.ReadAllAsync(enough))
            {
                if (!AlarmJson.TryRead(payload, out var change, out var mistake))
                    throw new IOException($"The agent published what is no alarm on {topic}: {mistake}");
                tally.Count(change!);
                Show(change!, output);
            }
        }
        catch (OperationCanceledException) when (enough.IsCancellationRequested)
        {
            // The end of the demonstration is its usual end.
        }
    }

    private static void Show(AlarmChange change, TextWriter output)
    {
        var time = change.Time.ToDateTimeOffset().ToString("dd MMM HH:mm:ss", CultureInfo.InvariantCulture);
        if (change.State != AlarmState.Unacknowledged)
        {
            output.WriteLine($"{time}  {change.Condition} is {change.State.Name()}");
            return;
        }

        var job = change.Job is null ? "" : $", job {change.Job}";
        output.WriteLine($"{time}  ALARM {change.Condition}, priority {change.Priority.Name()}: {change.Machine}{job}");
        output.WriteLine($"                 {change.Message}");
        for (var i = 0; i < change.Checks.Count; i++)
            output.WriteLine($"                 {i + 1}. {change.Checks[i]}");
    }

    private static void Sum(DemoSensors sensors, AlarmTally tally, TextWriter output)
    {
        output.WriteLine();
        output.WriteLine($"{sensors.Published} messages were published, judged and stored; the store has been deleted again.");
        var listing = new Listing("condition", "priority", "raised", "at the end");
        foreach (var alarm in tally.Lines)
            listing.Row(alarm.Condition, alarm.Highest.Name(), alarm.Raised.ToString(CultureInfo.InvariantCulture), alarm.State.Name());
        if (!listing.IsEmpty)
            listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
    }
}
