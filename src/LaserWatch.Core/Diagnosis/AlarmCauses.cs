using System.Globalization;
using System.Text.RegularExpressions;
using LaserWatch.Alarms;

namespace LaserWatch.Diagnosis;

/// <summary>Reads how an alarm ranks the causes of what it found, from its evidence.</summary>
public static partial class AlarmCauses
{
    private const string WeightOf = "weight_";

    /// <summary>
    /// From <c>cause_weights</c> (names, each with its weight as a fraction or percent, parted by commas or semicolons), or from numbers named <c>weight_</c>
    /// and the cause, or from <c>cause</c> alone. A name without a weight counts half of the one before it.
    /// </summary>
    public static IReadOnlyList<(string Name, double Weight)> Of(IReadOnlyList<Evidence> evidence)
    {
        if (evidence.FirstOrDefault(e => e.Name == "cause_weights").Text is { } ranked)
            return Listed(ranked);
        var numbers = evidence.Where(e => e.Number > 0 && e.Name.StartsWith(WeightOf, StringComparison.Ordinal))
            .Select(e => (e.Name[WeightOf.Length..].Replace('_', '-'), e.Number!.Value)).ToList();
        return numbers.Count > 0 ? numbers : Listed(evidence.FirstOrDefault(e => e.Name == "cause").Text ?? "");
    }

    private static List<(string Name, double Weight)> Listed(string text)
    {
        var causes = new List<(string, double)>();
        var rank = 1.0;
        foreach (var one in text.Split([',', ';'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries))
        {
            var name = Gap().Replace(Number().Replace(one, " ").Trim().ToLowerInvariant(), "-").Trim('-');
            var number = Number().Match(one);
            var weight = number.Success
                ? double.Parse(number.Groups[1].Value, CultureInfo.InvariantCulture) / (number.Groups[2].Success ? 100 : 1)
                : rank;
            if (name.Length > 0 && weight > 0)
                causes.Add((name, weight));
            rank /= 2;
        }

        return causes;
    }

    [GeneratedRegex(@"\(?\b(\d+(?:\.\d+)?)\s*(%)?\)?")]
    private static partial Regex Number();

    [GeneratedRegex(@"[^a-z0-9]+")]
    private static partial Regex Gap();
}
