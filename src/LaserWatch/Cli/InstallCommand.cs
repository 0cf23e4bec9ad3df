using System.CommandLine;
using System.Runtime.CompilerServices;
using LaserWatch.Install;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch install</c>: the agent as a service of this machine; run again with a newer program, its upgrade.</summary>
public static class InstallCommand
{
    /// <summary>What the unit hides from the service, besides the home of whoever installs.</summary>
    private static readonly string[] HiddenFolders = ["/home/", "/run/user/", "/tmp/", "/var/tmp/"];

    public static Command Create()
    {
        var root = Root("Puts all files under this folder, for packages, images and trials; makes no user and starts nothing.");
        var to = ProgramFolder();
        var dryRun = DryRun();
        var noStart = new Option<bool>("--no-start") { Description = "Neither starts nor restarts the service." };
        var config = new Option<string?>("--config", "-c") { Description = "Takes over this configuration, and the files that stand with it.", HelpName = "FILE" };
        var program = new Option<string?>("--program") { Description = "The published program to install, instead of the one that runs.", HelpName = "FILE" };
        var command = new Command(
            "install", "Installs the agent as a service (systemd, Windows), or replaces its program; configuration and data that are there stay.")
        {
            root, to, dryRun, noStart, config, program,
        };
        command.SetAction((parsed, stop) => RunAsync(
            new Wanted(
                parsed.GetValue(root), parsed.GetValue(to), parsed.GetValue(dryRun), !parsed.GetValue(noStart), parsed.GetValue(config),
                parsed.GetValue(program)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    internal static Option<string?> Root(string description)
    {
        var root = new Option<string?>("--root") { Description = description, HelpName = "DIR" };
        root.Validators.Add(result =>
        {
            if (OperatingSystem.IsWindows())
                result.AddError("--root stages an installation for Linux: run it there.");
        });
        return root;
    }

    internal static Option<string?> ProgramFolder() => new("--to")
    {
        Description = OperatingSystem.IsWindows() ? @"Folder of the program; without it, LaserWatch in the folder of programs." : "Folder of the program; without it, /opt/laserwatch.",
        HelpName = "FOLDER",
    };

    internal static Option<bool> DryRun() => new("--dry-run") { Description = "Prints what would be done, and does nothing." };

    /// <summary>Where things stand on this machine.</summary>
    /// <exception cref="CommandException">There is no installing on this system, or the folder would not do.</exception>
    internal static InstallLayout LayoutHere(string? programFolder)
    {
        if (OperatingSystem.IsWindows())
        {
            return InstallLayout.Windows(
                Environment.GetFolderPath(Environment.SpecialFolder.ProgramFiles), Environment.GetFolderPath(Environment.SpecialFolder.CommonApplicationData),
                programFolder is null ? null : Path.GetFullPath(programFolder));
        }

        if (!OperatingSystem.IsLinux())
            throw new CommandException(ExitCode.BadUsage, "installs on Linux with systemd and on Windows; here, let your own supervisor run 'laserwatch run'.");
        var folder = Path.GetFullPath(programFolder ?? InstallLayout.Linux().ProgramFolder).TrimEnd('/');
        if (folder.Length == 0 || folder.Any(c => !char.IsAsciiLetterOrDigit(c) && c is not ('/' or '.' or '_' or '-')))
            throw new CommandException(ExitCode.BadUsage, $"--to {programFolder}: name a folder of its own in letters, digits and . _ - alone, such as /opt/laserwatch.");
        var home = Environment.GetFolderPath(Environment.SpecialFolder.UserProfile).TrimEnd('/');
        if (HiddenFolders.Concat(home.Length > 0 ? [home + "/"] : []).Any(hidden => (folder + "/").StartsWith(hidden, StringComparison.Ordinal)))
            throw new CommandException(ExitCode.BadUsage, $"--to {programFolder}: the service cannot see {folder}, as it is shut out of homes and temporary folders; name another, such as /opt/laserwatch.");
        return InstallLayout.Linux(folder);
    }

    /// <exception cref="CommandException">This process may not, or the machine has no systemd.</exception>
    internal static void RequireRights(string verb, string? root)
    {
        if (root is not null)
            return;
        if (!Environment.IsPrivilegedProcess)
        {
            throw new CommandException(
                ExitCode.Unreachable,
                OperatingSystem.IsWindows() ? $"{verb} needs an administrator: run it in a terminal opened as one, or look first with --dry-run."
                : $"{verb} needs root: run it with sudo, look first with --dry-run, or stage it under a folder with --root.");
        }

        if (OperatingSystem.IsLinux() && !MachineFacts.IsRunBySystemd())
            throw new CommandException(ExitCode.Unreachable, "this machine is not run by systemd: stage the files with --root DIR, and let your own supervisor run 'laserwatch run'.");
    }

    private static async Task<int> RunAsync(Wanted wanted, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var layout = LayoutHere(wanted.To);
        var root = wanted.Root is null ? null : Path.GetFullPath(wanted.Root);
        try
        {
            var request = new InstallRequest(ProgramOf(wanted), layout)
            {
                IsStaged = root is not null,
                Start = wanted.Start,
                Configuration = wanted.Config is null ? null : TakenConfiguration.Read(wanted.Config, layout),
            };
            if (!wanted.DryRun)
                RequireRights("install", root);
            var facts = MachineFacts.Look(layout, root, request.Program);
            var plan = layout.Unit is null ? WindowsInstallPlan.For(request, facts) : InstallPlan.For(request, facts);
            if (wanted.DryRun && root is null && !Environment.IsPrivilegedProcess)
                await error.WriteLineAsync("laserwatch: looked at without an administrator's rights; what could not be seen is taken for missing.");
            if (wanted.DryRun)
                Print(plan, layout, output);
            else
                await new PlanRunner(root, error).RunAsync(plan, stop);
            await error.WriteLineAsync(Alarms.Cautions.Advisory);
            return (int)ExitCode.Done;
        }
        catch (InstallException fault)
        {
            throw new CommandException(fault.IsUsage ? ExitCode.BadUsage : ExitCode.Unreachable, fault.Message);
        }
        catch (Exception fault) when (fault is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot look at what is installed: {fault.Message}");
        }
    }

    /// <exception cref="CommandException">There is no such file, or it is not the whole program.</exception>
    private static string ProgramOf(Wanted wanted)
    {
        if (wanted.Program is { } named)
        {
            return File.Exists(named) ? Path.GetFullPath(named)
                : throw new CommandException(ExitCode.BadUsage, $"--program {named}: there is no such file.");
        }

        // The small build is one program and the native libraries of its packages, which are found beside it alone.
        if (!RuntimeFeature.IsDynamicCodeSupported)
            throw new CommandException(ExitCode.BadUsage, "this is the small build, whose libraries lie beside it: installing needs the full build; name that with --program, or run this one in its folder.");

        // A build's own executable starts the libraries that lie beside it, and is nothing without them.
        return !File.Exists(Path.Combine(AppContext.BaseDirectory, "laserwatch.dll")) && Environment.ProcessPath is { } own ? own
            : throw new CommandException(
                ExitCode.BadUsage,
                "this program is a build in many files: publish it as one (dotnet publish src/LaserWatch -c Release -r linux-x64 --self-contained -p:PublishSingleFile=true), and run that, or name it with --program.");
    }

    private static void Print(IReadOnlyList<InstallStep> plan, InstallLayout layout, TextWriter output)
    {
        foreach (var step in plan)
            output.WriteLine(step.Text);
        if (plan.OfType<FileStep>().FirstOrDefault(step => step.Path == layout.Unit) is { } unit)
        {
            output.WriteLine();
            output.WriteLine($"---- {unit.Path}");
            output.Write(unit.Content);
        }
    }

    private sealed record Wanted(string? Root, string? To, bool DryRun, bool Start, string? Config, string? Program);
}
