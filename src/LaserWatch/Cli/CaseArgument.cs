using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;

namespace LaserWatch.Cli;

/// <summary>A case as it is named on the command line: a shipped one by its name, any other by its folder.</summary>
internal static class CaseArgument
{
    public const string Description = "A shipped case's name (see laserwatch case list), or the folder of a case; write ./NAME for a folder named as a shipped case is.";

    /// <param name="model">The causes and checks that a folder's case may name; null: the built-in ones.</param>
    /// <exception cref="CommandException">There is no such case, or it has mistakes: all of them, a line each.</exception>
    public static TrainingCase Open(string nameOrFolder, CauseModel? model = null)
    {
        if (ShippedCases.Names.Contains(nameOrFolder))
            return ShippedCases.Open(nameOrFolder);
        if (CaseFolder.IsName(nameOrFolder) && !Directory.Exists(nameOrFolder))
        {
            var nearest = NearestWord.To(nameOrFolder, ShippedCases.Names);
            throw new CommandException(
                ExitCode.Unreachable,
                $"there is no shipped case and no folder '{nameOrFolder}'{(nearest is null ? "; laserwatch case list names the cases" : $"; did you mean '{nearest}'?")}");
        }

        var read = CaseFolder.Read(nameOrFolder, model ?? CausesFile.ReadBuiltIn());
        return read.Value ?? throw new CommandException(ExitCode.Unreachable, string.Join("\nlaserwatch: ", read.Mistakes));
    }
}
