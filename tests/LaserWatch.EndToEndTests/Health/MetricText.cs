using System.Globalization;
using System.Text.RegularExpressions;

namespace LaserWatch.Health;

/// <summary>A strict reader of OpenMetrics text, written for these tests alone. Throws on what the format forbids.</summary>
/// <remarks>
/// By the OpenMetrics 1.0 specification, sections "Overall structure", "Metric naming and namespaces" and "Metric types and samples": a family's
/// lines stand together, its TYPE first; its unit ends its name; a counter's samples end in <c>_total</c> and <c>_created</c>; a histogram's
/// bounds rise, are spelled with a point, and the last is all of it; <c># EOF</c> ends the text.
/// </remarks>
internal sealed partial class MetricText
{
    private static readonly Dictionary<string, string[]> SuffixesOf = new(StringComparer.Ordinal)
    {
        ["counter"] = ["_total", "_created"],
        ["gauge"] = [""],
        ["histogram"] = ["_bucket", "_sum", "_count", "_created"],
        ["info"] = ["_info"],
    };

    private readonly Dictionary<string, string> _types = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _units = new(StringComparer.Ordinal);
    private readonly HashSet<string> _helps = new(StringComparer.Ordinal);
    private readonly Dictionary<string, double> _samples = new(StringComparer.Ordinal);
    private string _family = "";
    private bool _hasSamples;
    private double _bound = double.NegativeInfinity;

    private MetricText() { }

    public IReadOnlyDictionary<string, string> Types => _types;

    public IReadOnlyDictionary<string, string> Units => _units;

    /// <summary>The values, by name and labels as <c>name{a="b",c="d"}</c> with the labels in order.</summary>
    public IReadOnlyDictionary<string, double> Samples => _samples;

    public static MetricText Read(string text)
    {
        if (!text.EndsWith("\n# EOF\n", StringComparison.Ordinal))
            throw new FormatException("The text does not end with # EOF and a line feed.");
        var read = new MetricText();
        foreach (var line in text.Split('\n')[..^2])
            read.TakeLine(line);
        read.CheckHistograms();
        read.CheckCounters();
        return read;
    }

    private void TakeLine(string line)
    {
        if (!line.StartsWith('#'))
        {
            TakeSample(line);
            return;
        }

        var words = line.Split(' ', 4);
        if (words is not ["#", _, var family, var rest] || _hasSamples && family == _family)
            throw new FormatException($"No line of a family's head: {line}");
        switch (words[1])
        {
            case "TYPE" when SuffixesOf.ContainsKey(rest) && FamilyName().IsMatch(family) && _types.TryAdd(family, rest):
                (_family, _hasSamples, _bound) = (family, false, double.NegativeInfinity);
                break;
            case "UNIT" when family == _family && family.EndsWith("_" + rest, StringComparison.Ordinal) && _types[family] != "info":
                _units.Add(family, rest);
                break;
            case "HELP" when family == _family && HelpText().IsMatch(rest) && _helps.Add(family):
                break;
            default:
                throw new FormatException(line);
        }
    }

    private void TakeSample(string line)
    {
        var match = SampleLine().Match(line);
        if (!match.Success)
            throw new FormatException($"No sample: {line}");
        var name = match.Groups["name"].Value;
        var suffix = _family.Length > 0 && name.StartsWith(_family, StringComparison.Ordinal) ? name[_family.Length..] : "?";
        var type = _types.GetValueOrDefault(_family, "");
        if (!SuffixesOf[type].Contains(suffix))
            throw new FormatException($"No sample of the family {_family}: {line}");
        var labels = string.Join(',', match.Groups["label"].Captures.Select(c => c.Value).Order(StringComparer.Ordinal));
        var value = double.Parse(match.Groups["value"].Value, NumberStyles.Float, CultureInfo.InvariantCulture);
        if (type is "counter" or "histogram" && value < 0 || type == "info" && value != 1)
            throw new FormatException($"Not a value of its type: {line}");
        if (suffix == "_bucket")
            TakeBound(line);
        if (!_samples.TryAdd(labels.Length == 0 ? name : $"{name}{{{labels}}}", value))
            throw new FormatException($"A sample twice: {line}");
        _hasSamples = true;
    }

    private void TakeBound(string line)
    {
        var bound = BoundOf(line);
        if (bound <= _bound)
            throw new FormatException($"The bounds do not rise: {line}");
        _bound = bound;
    }

    private void CheckHistograms()
    {
        foreach (var (family, _) in _types.Where(type => type.Value == "histogram"))
        {
            var buckets = _samples.Where(s => s.Key.StartsWith(family + "_bucket{", StringComparison.Ordinal))
                .Select(s => (Bound: BoundOf(s.Key), s.Value)).OrderBy(b => b.Bound).ToList();
            for (var i = 1; i < buckets.Count; i++)
            {
                if (buckets[i].Value < buckets[i - 1].Value)
                    throw new FormatException($"{family}: a bucket holds less than the one below it.");
            }

            if (buckets.Count == 0 || !double.IsPositiveInfinity(buckets[^1].Bound) || buckets[^1].Value != _samples[family + "_count"])
                throw new FormatException($"{family}: the last bucket is not all of it.");
        }
    }

    // When it began to count stands beside each counter, with the same labels.
    private void CheckCounters()
    {
        foreach (var (family, _) in _types.Where(type => type.Value == "counter"))
        {
            var totals = _samples.Keys.Where(key => key == family + "_total" || key.StartsWith(family + "_total{", StringComparison.Ordinal)).ToList();
            if (totals.Count == 0 || !totals.All(key => _samples.ContainsKey(family + "_created" + key[(family + "_total").Length..])))
                throw new FormatException($"{family}: a total without the time it began at, or no total.");
        }
    }

    private static double BoundOf(string text) => BucketBound().Match(text) is { Success: true } match
        ? match.Groups[1].Value == "+Inf" ? double.PositiveInfinity : double.Parse(match.Groups[1].Value, CultureInfo.InvariantCulture)
        : throw new FormatException($"No bound with a point: {text}");

    // A family that ended like a sample could be taken for another family's sample.
    [GeneratedRegex("^[a-zA-Z_:][a-zA-Z0-9_:]*(?<!_total|_created|_count|_sum|_bucket|_info|_gcount|_gsum)$")]
    private static partial Regex FamilyName();

    [GeneratedRegex("""^([^"\\]|\\[n"\\])+$""")]
    private static partial Regex HelpText();

    [GeneratedRegex("""^(?<name>[a-zA-Z_:][a-zA-Z0-9_:]*)(\{((?<label>[a-zA-Z_][a-zA-Z0-9_]*="(\\[n"\\]|[^"\\])*")(,(?<label>[a-zA-Z_][a-zA-Z0-9_]*="(\\[n"\\]|[^"\\])*"))*)\})? (?<value>[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]+)?)$""")]
    private static partial Regex SampleLine();

    [GeneratedRegex("""le="([0-9]+\.[0-9]+|\+Inf)"[,}]""")]
    private static partial Regex BucketBound();
}
