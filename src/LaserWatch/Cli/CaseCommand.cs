using System.CommandLine;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case</c>: training cases, each a recording with what really was wrong.</summary>
public static class CaseCommand
{
    public static Command Create() => new("case", "Training cases: a recording, what really was wrong, and what a good operator checks.")
    {
        CaseListCommand.Create(),
        CaseShowCommand.Create(),
        CaseCopyCommand.Create(),
        CaseNewCommand.Create(),
        CaseCheckCommand.Create(),
        CaseMakeCommand.Create(),
    };
}
