using System.CommandLine;
using LaserWatch.Cases;
using LaserWatch.Configuration;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case check</c>: whether a folder is a case that can be played; one line a mistake.</summary>
internal static class CaseCheckCommand
{
    public static Command Create()
    {
        var folder = new Argument<string>("FOLDER") { Description = "The folder of a case." };
        var config = SharedOptions.Config();
        var command = new Command("check", "Checks a case's folder: a line for each mistake and for all that is still to be filled in. Exit status 1: there is some.") { folder, config };
        command.SetAction(parsed => Run(parsed.GetRequiredValue(folder), parsed.GetValue(config), parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error));
        return command;
    }

    private static int Run(string folder, string? config, TextWriter output, TextWriter error)
    {
        if (!Directory.Exists(folder))
            throw new CommandException(ExitCode.Unreachable, $"there is no folder '{folder}': name the folder of a case.");
        var checkup = CaseCheckup.Of(folder, SharedOptions.Read(config).Causes ?? CausesFile.ReadBuiltIn());
        foreach (var mistake in checkup.Mistakes)
            output.WriteLine(mistake);
        if (checkup is { Case: { } its, Counts: { } counts, First: { } first, Last: { } last })
            error.WriteLine($"{its.Name}: {counts.Samples} sample(s) of {its.Machine} from {CaseWords.Of(first)} to {CaseWords.Of(last)}");
        error.WriteLine(checkup.Mistakes.Count == 0 ? $"{folder} is sound: laserwatch practise {folder}" : $"{checkup.Mistakes.Count} to mend");
        return (int)(checkup.Mistakes.Count == 0 ? ExitCode.Done : ExitCode.FoundWanting);
    }
}
