using LaserWatch.Configuration;
using LaserWatch.Storage;
using LaserWatch.Storage.Influx;
using LaserWatch.Storage.Sqlite;
using Microsoft.Extensions.Logging;
using Serilog.Extensions.Logging;

namespace LaserWatch.Cli;

/// <summary>Opens the store that a configuration names, embedded or InfluxDB; what is wrong with it ends the verb with one line.</summary>
public static class StoreAccess
{
    /// <summary>How long the agent waits at its end for InfluxDB to take what is left; the rest is in the spool.</summary>
    private static readonly TimeSpan AgentFlush = TimeSpan.FromSeconds(1);

    /// <summary>Verbs wait for it as long as it takes, or until it takes nothing.</summary>
    private static readonly TimeSpan VerbFlush = TimeSpan.FromHours(12);

    /// <exception cref="CommandException">It cannot be read.</exception>
    public static ITelemetryStore ForReading(StoreOptions options) => Open<ITelemetryStore>(() => options.Influx is null
        ? SqliteTelemetryStore.OpenForReading(options.Path)
        : InfluxTelemetryStore.OpenForReading(options, ToStandardError()));

    /// <param name="log">The agent's log; null: a verb that writes and ends, and says on standard error what somebody must know.</param>
    /// <exception cref="CommandException">It cannot be opened for writing.</exception>
    /// <remarks>Training data and those of real machines are never in one store.</remarks>
    public static ITelemetryStore ForWriting(StoreOptions options, Serilog.ILogger? log = null) => Open(() =>
    {
        TrainingMark.RefuseOther(options.Path, options.Training);
        ITelemetryStore store = options.Influx is null
            ? SqliteTelemetryStore.Open(options)
            : log is null
                ? InfluxTelemetryStore.Open(options, VerbFlush, TimeProvider.System, ToStandardError())
                : InfluxTelemetryStore.Open(options, AgentFlush, TimeProvider.System, LoggerOf(log));
        if (options.Training)
            TrainingMark.Put(options.Path);
        return store;
    });

    /// <summary>True where a store is there, and holds training data.</summary>
    /// <exception cref="CommandException">Its file cannot be read.</exception>
    public static bool HoldsTraining(StoreOptions options) => Open(() => TrainingMark.IsOn(options.Path));

    /// <summary>Says where what is shown is of training.</summary>
    public static async Task TellTrainingAsync(ITelemetryStore store, StoreOptions options, TextWriter error)
    {
        if (store.HoldsTraining)
            await error.WriteLineAsync($"laserwatch: {options.Path} holds training data: none of this is of a real machine").ConfigureAwait(false);
    }

    private static ILogger ToStandardError() => LoggerOf(AgentLog.Create(new LogOptions { Level = LogSeverity.Warning }));

    private static ILogger LoggerOf(Serilog.ILogger log)
    {
#pragma warning disable CA2000 // Without a provider of its own there is nothing that disposing it would let go.
        return new SerilogLoggerFactory(log).CreateLogger(typeof(InfluxTelemetryStore).FullName!);
#pragma warning restore CA2000
    }

    private static T Open<T>(Func<T> open)
    {
        try
        {
            return open();
        }
        catch (StoreException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }
    }

    /// <exception cref="CommandException">The store knows no such machine; it says which it knows.</exception>
    public static async Task RequireMachineAsync(ITelemetryStore store, StoreOptions options, string machine, CancellationToken stop)
    {
        var machines = await store.ReadMachinesAsync(stop).ConfigureAwait(false);
        if (machines.Contains(machine))
            return;
        throw new CommandException(
            ExitCode.Unreachable,
            machines.Count == 0 ? $"the store {options.Path} knows no machine yet."
            : $"the store {options.Path} knows no machine '{machine}'; it knows {string.Join(", ", machines)}.");
    }
}
