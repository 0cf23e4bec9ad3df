using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Delivery;

/// <summary>A program of this machine, for a lamp or a buzzer: it gets the alarm's JSON on its standard input, and exit status 0 says that it is done.</summary>
public sealed record HookOptions : OutletOptions
{
    /// <summary>The program, by its absolute path; no shell stands between.</summary>
    public required string Executable { get; init; }

    /// <summary>What it is called with, each as it is.</summary>
    public IReadOnlyList<string> Arguments { get; init; } = [];

    /// <summary>Seconds after which it is killed, with what it started. Default 10. Lower: a hanging one holds up what comes after it for less.</summary>
    [Range(1, 300)]
    public int TimeoutSeconds { get; init; } = 10;

    public override IEnumerable<OptionMistake> Mistakes()
    {
        foreach (var wrong in base.Mistakes())
            yield return wrong;
        if (!Path.IsPathFullyQualified(Executable))
            yield return new("executable", $"'{Executable}' is no absolute path", "write the whole path, so that no other program of that name can be run");
        for (var i = 0; i < Arguments.Count; i++)
        {
            if (Arguments[i].Contains('\0', StringComparison.Ordinal))
                yield return new($"arguments[{i}]", "there is a NUL character in it", "take it out");
        }
    }
}
