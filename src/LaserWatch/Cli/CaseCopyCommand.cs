using System.CommandLine;
using LaserWatch.Cases;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case copy</c>: a shipped case as a folder, for replay, compare, diagnose, or to make another of it.</summary>
internal static class CaseCopyCommand
{
    public static Command Create()
    {
        var name = new Argument<string>("NAME") { Description = "The shipped case's name." };
        name.AcceptOnlyFromAmong([.. ShippedCases.Names]);
        var folder = new Option<string>("--out") { Description = "The folder to make; its name is the copy's. One that is there is never written over.", HelpName = "FOLDER", Required = true };
        var command = new Command("copy", "Copies a shipped case into a folder: its recording for replay, compare or diagnose, and the answer beside it.") { name, folder };
        command.SetAction((parsed, _) => RunAsync(parsed.GetRequiredValue(name), parsed.GetRequiredValue(folder), parsed.InvocationConfiguration.Error));
        return command;
    }

    private static async Task<int> RunAsync(string name, string folder, TextWriter error)
    {
        CaseNewCommand.RequireName(folder);
        try
        {
            await CaseFolder.CopyAsync(name, folder).ConfigureAwait(false);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write {folder}: {e.Message}");
        }

        await error.WriteLineAsync($"{folder}: {CaseFolder.PackedRecording}, {CaseFolder.SheetFile}, {CaseFolder.NotesFile}").ConfigureAwait(false);
        return (int)ExitCode.Done;
    }
}
