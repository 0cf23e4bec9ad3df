using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization;
using LaserWatch.Jobs;

namespace LaserWatch.Configuration;

/// <summary>One setting in which two configurations differ.</summary>
/// <param name="Path">As in the file, such as <c>rules.airPressure.tolerance</c>; of a job record, <c>jobs.NAME</c>.</param>
/// <param name="A">As JSON; null where A has nothing there.</param>
/// <param name="TouchesRules">What the rules say of the same samples can depend on it.</param>
public sealed record OptionDifference(string Path, string? A, string? B, bool TouchesRules);

/// <summary>Lists what two configurations differ in, by their values in force and not by their text.</summary>
public static class OptionDifferences
{
    public static IReadOnlyList<OptionDifference> Of(LaserWatchOptions a, LaserWatchOptions b)
    {
        List<OptionDifference> found = [];
        Compare("", Node(a), Node(b), found);
        foreach (var job in a.JobRecords.Concat(b.JobRecords).Select(r => r.Job).Distinct().Order(StringComparer.Ordinal))
            Compare($"jobs.{job}", Records(a, job), Records(b, job), found);

        // The rules of a machine hold those of the shop: what was told there need not be told again.
        var shop = found.Where(d => d.Path.StartsWith("rules.", StringComparison.Ordinal)).Select(d => ("." + d.Path, d.A, d.B)).ToHashSet();
        found.RemoveAll(d => d.Path.StartsWith("machines.", StringComparison.Ordinal) && d.Path.IndexOf(".rules.", StringComparison.Ordinal) is >= 0 and var at && shop.Contains((d.Path[at..], d.A, d.B)));
        return found;
    }

    private static JsonNode? Node(LaserWatchOptions options) => JsonSerializer.SerializeToNode(options with { Schema = null }, ConfigurationJson.Options.GetTypeInfo(typeof(LaserWatchOptions)));

    private static JsonArray? Records(LaserWatchOptions options, string job)
    {
        var records = options.JobRecords.Where(r => r.Job == job).OrderBy(r => r.RecordedAt).Select(r => JsonSerializer.SerializeToNode(r, RecordTypes.Default.JobRecord)).ToArray();
        return records.Length == 0 ? null : new JsonArray(records);
    }

    private static void Compare(string path, JsonNode? a, JsonNode? b, List<OptionDifference> found)
    {
        if (JsonNode.DeepEquals(a, b))
            return;
        if (a is JsonObject x && b is JsonObject y)
        {
            foreach (var name in x.Select(p => p.Key).Union(y.Select(p => p.Key)))
                Compare(path.Length == 0 ? name : $"{path}.{name}", x[name], y[name], found);
            return;
        }

        if (a is JsonArray { Count: var count } listA && b is JsonArray listB && count == listB.Count)
        {
            for (var i = 0; i < count; i++)
                Compare($"{path}[{i}]", listA[i], listB[i], found);
            return;
        }

        found.Add(new(path, a?.ToJsonString(), b?.ToJsonString(), Touches(path)));
    }

    // A machine is there by name alone, too; its rules and its tube judge, its sensors' calibration is in the samples already.
    private static bool Touches(string path)
    {
        var names = path.Split('.', 3);
        return names[0] is "rules" or "jobs"
            || (names is ["machines", _, var key] && (key.StartsWith("rules", StringComparison.Ordinal) || key.StartsWith("tube", StringComparison.Ordinal)))
            || names is ["machines", _];
    }
}

/// <summary>Job records are read by hand: their quantities are no settings.</summary>
[JsonSourceGenerationOptions(PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase, Converters = [typeof(InstantText), typeof(CutModeText)])]
[JsonSerializable(typeof(JobRecord))]
internal sealed partial class RecordTypes : JsonSerializerContext
{
    private sealed class CutModeText() : JsonStringEnumConverter<CutMode>(JsonNamingPolicy.KebabCaseLower);
}
