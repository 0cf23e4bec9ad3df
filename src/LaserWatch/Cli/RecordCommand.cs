using System.CommandLine;
using LaserWatch.Alarms;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch record</c>: a machine's time from the store as a recording.</summary>
public static class RecordCommand
{
    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine's name." };
        var file = new Option<string>("--out")
        {
            Description = "The recording to write, .lp, or .lp.gz to pack it. It appears only when it is whole.",
            HelpName = "FILE",
            Required = true,
        };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var config = SharedOptions.Config();
        var store = new Option<string?>("--store") { Description = "The store, instead of the one that the configuration names.", HelpName = "FILE" };

        var command = new Command("record", "Writes a recording from the store.") { machine, file, from, to, config, store };
        command.Validators.Add(result =>
        {
            if (result.GetResult(config) is not null && result.GetResult(store) is not null)
                result.AddError("Give --config or --store, not both.");
        });
        command.SetAction((parsed, stop) => RunAsync(
            parsed.GetRequiredValue(machine), parsed.GetRequiredValue(file), parsed.GetValue(from) ?? Instant.MinValue,
            parsed.GetValue(to) ?? Instant.MaxValue, parsed.GetValue(store) ?? AgentConfiguration.Read(parsed.GetValue(config)).Store.Path,
            parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static async Task<int> RunAsync(
        string machine, string file, Instant from, Instant to, string storePath, TextWriter error, CancellationToken stop)
    {
        if (from >= to)
            throw new CommandException(ExitCode.BadUsage, "--from must be before --to.");
        try
        {
            var store = SqliteTelemetryStore.OpenForReading(storePath);
            await using (store.ConfigureAwait(false))
            {
                var machines = await store.ReadMachinesAsync(stop).ConfigureAwait(false);
                if (!machines.Contains(machine))
                {
                    throw new CommandException(
                        ExitCode.Unreachable,
                        machines.Count == 0 ? $"the store {storePath} knows no machine yet."
                        : $"the store {storePath} knows no machine '{machine}'; it knows {string.Join(", ", machines)}.");
                }

                var extent = await RecordingWriter.WriteFileAsync(store, machine, from, to, file, stop).ConfigureAwait(false);
                var span = extent.First is { } first && extent.Last is { } last ? $" from {Rfc3339.Format(first)} to {Rfc3339.Format(last)}" : "";
                await error.WriteLineAsync(
                    $"{file}: {extent.Samples} sample(s){span}, {extent.JobRuns} job run event(s), {extent.JobRecords} job record(s), " +
                    $"{extent.ServiceEvents} service event(s), {extent.Alarms} alarm transition(s)").ConfigureAwait(false);
                if (extent.IsEmpty)
                    throw new CommandException(ExitCode.FoundWanting, $"the store has nothing of {machine} in that time; widen --from and --to.");
                return (int)ExitCode.Done;
            }
        }
        catch (StoreException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write the recording {file}: {e.Message}");
        }
    }
}
