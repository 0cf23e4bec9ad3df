using System.CommandLine;
using System.Data.Common;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Serilog.Debugging;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch run</c>: the agent, until it is told to stop.</summary>
public static class RunCommand
{
    public static Command Create()
    {
        var config = SharedOptions.Config();
        var command = new Command("run", "Runs the agent: takes samples from the broker, judges, stores, and raises alarms.") { config };
        command.SetAction((parsed, stop) => RunAsync(parsed.GetValue(config), parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static async Task<int> RunAsync(string? config, TextWriter error, CancellationToken stop)
    {
        OwnFiles.ShutOthersOut();
        var options = AgentConfiguration.Read(config, out var told);
        await error.WriteLineAsync($"laserwatch: {told}");
        SelfLog.Enable(line => error.WriteLine($"laserwatch: the log: {line}")); // a log that cannot be written must not be silent
        using var log = AgentLog.Create(options.Log);
        foreach (var open in SecretFiles.Warnings(options))
            log.Warning("{What}", open);
        await using var store = StoreAccess.ForWriting(options.Store, log);
        var host = Composition.Build(options, store, log);
        var worker = host.Services.GetRequiredService<WatchWorker>();
        await host.RunAsync(stop); // disposes the host
        return worker.Failure switch
        {
            null => (int)ExitCode.Done,
            IOException or StoreException or DbException or UnauthorizedAccessException or SecretMissingException => throw new CommandException(ExitCode.Unreachable, worker.Failure.Message),
            var fault => Unexpected(log, fault),
        };
    }

    private static int Unexpected(Serilog.ILogger log, Exception fault)
    {
        log.Fatal(fault, "The watch stopped on a fault of the program; please report it");
        return (int)ExitCode.FoundWanting;
    }
}
