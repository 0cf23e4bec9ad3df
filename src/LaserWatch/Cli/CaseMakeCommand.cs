using System.CommandLine;
using LaserWatch.Cases;
using LaserWatch.Demo.Cases;
using LaserWatch.Recordings;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case make</c>: the shipped cases' recordings made anew, for who builds the program.</summary>
/// <remarks>Sheets and notes are written by hand and stay as they are. The lines come out the same to the byte each time; how gzip packs them may differ from one processor to another.</remarks>
internal static class CaseMakeCommand
{
    public static Command Create()
    {
        var folder = new Option<string>("--out") { Description = "The folder of the cases, such as config/cases.", HelpName = "FOLDER", Required = true };
        var names = new Argument<string[]>("NAME") { Description = "Only these cases.", Arity = ArgumentArity.ZeroOrMore };
        names.AcceptOnlyFromAmong([.. CaseScenarios.All.Select(scenario => scenario.Name)]);
        var command = new Command("make", "For who builds the program: makes the recordings of the shipped cases anew, the same each time.") { names, folder };
        command.Hidden = true;
        command.SetAction((parsed, _) => RunAsync(parsed.GetRequiredValue(folder), parsed.GetValue(names) ?? [], parsed.InvocationConfiguration.Output));
        return command;
    }

    private static async Task<int> RunAsync(string folder, string[] names, TextWriter output)
    {
        foreach (var scenario in CaseScenarios.All.Where(scenario => names.Length == 0 || names.Contains(scenario.Name)))
        {
            var file = Path.Combine(folder, scenario.Name, CaseFolder.PackedRecording);
            try
            {
                Directory.CreateDirectory(Path.GetDirectoryName(file)!);
                await WholeFile.WriteAsync(file, to =>
                {
                    scenario.Write(to);
                    return Task.FromResult(true);
                }).ConfigureAwait(false);
                await output.WriteLineAsync($"{file}: {new FileInfo(file).Length} bytes").ConfigureAwait(false);
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
            {
                throw new CommandException(ExitCode.Unreachable, $"cannot write {file}: {e.Message}");
            }
        }

        return (int)ExitCode.Done;
    }
}
