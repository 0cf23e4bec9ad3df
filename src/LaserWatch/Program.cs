using System.CommandLine;
using LaserWatch.Cli;
using LaserWatch.Health;
using LaserWatch.Storage;

namespace LaserWatch;

/// <summary>The root command: one line a verb, each in its own file under Cli/.</summary>
public static class Program
{
    public static Task<int> Main(string[] args)
    {
        if (OperatingSystem.IsLinux())
            NativeHeap.KeepTogether();
        return RunAsync(args, Console.Out, Console.Error);
    }

    /// <summary>As they stand in the help, and in the table of config/interface.md.</summary>
    internal static IReadOnlyList<Command> Verbs() =>
    [
        RunCommand.Create(),
        DemoCommand.Create(),
        CheckCommand.Create(),
        ReplayCommand.Create(),
        CompareCommand.Create(),
        AlarmsCommand.Create(),
        JobsCommand.Create(),
        ServiceCommand.Create(),
        AnnotateCommand.Create(),
        RecordCommand.Create(),
        TrendCommand.Create(),
        ReportCommand.Create(),
        VerifyCommand.Create(),
        DiagnoseCommand.Create(),
        CaseCommand.Create(),
        PractiseCommand.Create(),
        InstallCommand.Create(),
        UninstallCommand.Create(),
        PasswordCommand.Create(),
    ];

    /// <summary>Runs one command line; returns the exit status.</summary>
    /// <param name="output">Takes the data.</param>
    /// <param name="error">Takes the talk.</param>
    public static async Task<int> RunAsync(string[] args, TextWriter output, TextWriter error, CancellationToken stop = default)
    {
        var root = new RootCommand("Watches CO2 laser cutters by their sensors. It advises; it is no safety device.");
        foreach (var verb in Verbs())
            root.Add(verb);

        var parsed = root.Parse(args);
        if (parsed.Errors.Count > 0)
        {
            var verb = parsed.CommandResult.Command is RootCommand ? "" : parsed.CommandResult.Command.Name + " ";
            await error.WriteLineAsync($"laserwatch: {parsed.Errors[0].Message} See 'laserwatch {verb}--help'.").ConfigureAwait(false);
            return (int)ExitCode.BadUsage;
        }

        try
        {
            var invocation = new InvocationConfiguration
            {
                Output = output,
                Error = error,
                EnableDefaultExceptionHandler = false,
                ProcessTerminationTimeout = TimeSpan.FromSeconds(10),
            };
            return await parsed.InvokeAsync(invocation, stop).ConfigureAwait(false);
        }
        catch (CommandException fault)
        {
            await error.WriteLineAsync("laserwatch: " + fault.Message).ConfigureAwait(false);
            return (int)fault.Code;
        }
        catch (StoreException fault)
        {
            // Opening told what could be told then; a server can go away while it is read.
            await error.WriteLineAsync("laserwatch: " + fault.Message).ConfigureAwait(false);
            return (int)ExitCode.Unreachable;
        }
    }
}
