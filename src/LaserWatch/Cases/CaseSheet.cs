using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What stands in <c>case.json</c>.</summary>
internal sealed record CaseSheet : ICheckedOptions
{
    /// <summary>What stands where only a person knows; a sheet that still holds it is not finished.</summary>
    public const string ToFillIn = "FILL IN";

    [StringLength(120, MinimumLength = 1)]
    public required string Title { get; init; }

    [StringLength(32, MinimumLength = 1)]
    public required string Machine { get; init; }

    public required CaseLevel Level { get; init; }

    public required IReadOnlyList<string> Causes { get; init; }

    /// <summary>As text, so that what is still to be filled in can stand there and be told by its name.</summary>
    public required string? Began { get; init; }

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
        const string beganMend = "write when it began to go wrong, as in \"2026-03-09T08:00:00Z\", or null where nobody knows";
        if (Began is not null && Causes.Count == 0 && !IsToFillIn(Began))
            yield return new("began", "nothing is wrong, and yet it began", "write null, or name the cause");
        else if (Began is not null && BeganAt is null)
            yield return new("began", IsToFillIn(Began) ? "still to be filled in" : $"'{Began}' is not a date or time", beganMend);
        foreach (var (member, list) in new[] { ("causes", Causes), ("checks", Checks) })
        {
            for (var i = 1; i < list.Count; i++)
            {
                if (list.Take(i).Contains(list[i]))
                    yield return new($"{member}[{i}]", $"'{list[i]}' stands there twice", "take one of them out");
            }
        }
    }

    /// <summary>Null where it is null, or no time.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public Instant? BeganAt => Began is not null && InstantText.TryParse(Began, out var at) ? at : null;

    public static bool IsToFillIn(string text) => text.StartsWith(ToFillIn, StringComparison.Ordinal);
}
