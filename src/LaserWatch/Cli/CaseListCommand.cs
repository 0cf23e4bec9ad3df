using System.CommandLine;
using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case list</c>: the shipped cases and those of a folder; never what was wrong.</summary>
internal static class CaseListCommand
{
    public static Command Create()
    {
        var folder = new Option<string?>("--in") { Description = "Also the cases whose folders lie in this folder.", HelpName = "FOLDER" };
        var config = SharedOptions.Config();
        var command = new Command("list", "Lists the shipped cases, and your own.") { folder, config };
        command.SetAction(parsed => Run(parsed.GetValue(folder), parsed.GetValue(config), parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error));
        return command;
    }

    private static int Run(string? folder, string? config, TextWriter output, TextWriter error)
    {
        var listing = new Listing("case", "level", "made", "title");
        foreach (var shipped in ShippedCases.Names.Select(ShippedCases.Open).OrderBy(its => its.Level).ThenBy(its => its.Name, StringComparer.Ordinal))
            listing.Row(shipped.Name, CaseWords.Of(shipped.Level), CaseWords.Of(shipped.Made), shipped.Title);
        var isWhole = folder is null || ListOwn(folder, SharedOptions.Read(config).Causes ?? CausesFile.ReadBuiltIn(), listing, error);
        listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
        return (int)(isWhole ? ExitCode.Done : ExitCode.FoundWanting);
    }

    private static bool ListOwn(string folder, CauseModel model, Listing listing, TextWriter error)
    {
        if (!Directory.Exists(folder))
            throw new CommandException(ExitCode.Unreachable, $"there is no folder '{folder}': name the one that holds the folders of your cases.");
        var isWhole = true;
        foreach (var own in Directory.EnumerateDirectories(folder).Where(own => File.Exists(Path.Combine(own, CaseFolder.SheetFile))).Order(StringComparer.Ordinal))
        {
            var read = CaseFolder.Read(own, model);
            if (read.Value is { } its)
            {
                listing.Row(own, CaseWords.Of(its.Level), CaseWords.Of(its.Made), its.Title);
                continue;
            }

            isWhole = false;
            error.WriteLine($"laserwatch: {read.Mistakes[0]}{(read.Mistakes.Count > 1 ? $" ({read.Mistakes.Count - 1} more: laserwatch case check {own})" : "")}");
        }

        return isWhole;
    }
}
