using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What stands in <c>case.json</c>.</summary>
internal sealed record CaseSheet
{
    /// <summary>What stands where only a person knows; a sheet that still holds it is not finished.</summary>
    public const string ToFillIn = "FILL IN";

    [StringLength(120, MinimumLength = 1)]
    public required string Title { get; init; }

    [StringLength(32, MinimumLength = 1)]
    public required string Machine { get; init; }

    public required CaseLevel Level { get; init; }

    public required IReadOnlyList<string> Causes { get; init; }

    public required Instant? Began { get; init; }

    public Instant? WatchFrom { get; init; }

    public required IReadOnlyList<string> Checks { get; init; }

    [StringLength(400, MinimumLength = 1)]
    public required string Summary { get; init; }

    public required CaseOrigin Made { get; init; }

    /// <summary>What the sheet says against itself; the reader calls it.</summary>
    public IEnumerable<OptionMistake> Mistakes()
    {
        if (!MachineName.IsValid(Machine))
            yield return new("machine", $"'{Machine}' is not a machine's name", $"use {MachineName.Rule}");
        if (IsToFillIn(Title))
            yield return new("title", "still to be filled in", "write what the case is called in a list, without the answer");
        if (IsToFillIn(Summary))
            yield return new("summary", "still to be filled in", "write one sentence that the trainee is told at the start, without the answer");
        if (Causes.Count == 0 && Began is not null)
            yield return new("began", "nothing is wrong, and yet it began", "write null, or name the cause");
        foreach (var (member, list) in new[] { ("causes", Causes), ("checks", Checks) })
        {
            for (var i = 1; i < list.Count; i++)
            {
                if (list.Take(i).Contains(list[i]))
                    yield return new($"{member}[{i}]", $"'{list[i]}' stands there twice", "take one of them out");
            }
        }
    }

    public static bool IsToFillIn(string text) => text.StartsWith(ToFillIn, StringComparison.Ordinal);
}
