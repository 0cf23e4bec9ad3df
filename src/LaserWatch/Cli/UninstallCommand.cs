using System.CommandLine;
using LaserWatch.Install;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch uninstall</c>: takes the service and its program away; data and configuration stay unless they are purged.</summary>
public static class UninstallCommand
{
    public static Command Create()
    {
        var root = InstallCommand.Root("Removes what was staged under this folder; the machine itself is left alone.");
        var dryRun = InstallCommand.DryRun();
        var purge = new Option<bool>("--purge") { Description = "Deletes configuration, samples, alarms, proofs and their key too: they cannot be made again." };
        var yes = new Option<bool>("--yes", "-y") { Description = "Does not ask before it purges." };
        var command = new Command("uninstall", "Stops and removes the service and its program; says what it leaves, and where.") { root, dryRun, purge, yes };
        command.SetAction((parsed, stop) => RunAsync(
            parsed.GetValue(root), parsed.GetValue(dryRun), parsed.GetValue(purge), parsed.GetValue(yes),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static async Task<int> RunAsync(string? rootFolder, bool dryRun, bool purge, bool yes, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var root = rootFolder is null ? null : Path.GetFullPath(rootFolder);
        try
        {
            var layout = InstallCommand.LayoutHere(ProgramFolderOf(InstallLayout.Linux(), root));
            var plan = UninstallPlan.For(layout, MachineFacts.Look(layout, root), root is not null, purge);
            if (dryRun)
            {
                foreach (var step in plan)
                    await output.WriteLineAsync(step.Text);
                return (int)ExitCode.Done;
            }

            InstallCommand.RequireRights("uninstall", root);
            if (purge && !yes && !await IsSureAsync(layout, error))
                return (int)ExitCode.FoundWanting;
            await new PlanRunner(root, error).RunAsync(plan, stop);
            return (int)ExitCode.Done;
        }
        catch (InstallException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }
        catch (Exception fault) when (fault is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot look at what is installed: {fault.Message}");
        }
    }

    /// <summary>The folder that the installed unit starts the program from; null: the usual one.</summary>
    private static string? ProgramFolderOf(InstallLayout layout, string? root)
    {
        const string Start = "ExecStart=";
        var unit = root is null ? layout.Unit! : Path.Join(root, layout.Unit);
        return OperatingSystem.IsWindows() || !File.Exists(unit) ? null
            : File.ReadLines(unit).Where(line => line.StartsWith(Start, StringComparison.Ordinal))
                .Select(line => Path.GetDirectoryName(line[Start.Length..].Split(' ')[0])).FirstOrDefault(folder => folder?.Length > 1);
    }

    /// <exception cref="CommandException">There is nobody to ask.</exception>
    private static async Task<bool> IsSureAsync(InstallLayout layout, TextWriter error)
    {
        if (Console.IsInputRedirected)
            throw new CommandException(ExitCode.BadUsage, "--purge deletes what cannot be made again, and there is no terminal to ask at: give --yes if that is meant.");
        await error.WriteAsync($"This deletes the configuration, and all samples, alarms and proofs with their key in {layout.StateFolder}, for good. Type 'purge' to go on: ");
        if (Console.ReadLine()?.Trim() == "purge")
            return true;
        await error.WriteLineAsync("Nothing was done.");
        return false;
    }
}
