using System.Globalization;
using System.Text.RegularExpressions;

namespace LaserWatch.Health;

/// <summary>A small reader of the text that metrics are scraped in, written for these tests alone. Throws on what the format forbids.</summary>
/// <remarks>After the OpenMetrics 1.0 text format and the older text format 0.0.4, from memory: families, samples, labels, histograms, the end mark.</remarks>
internal sealed partial class MetricText
{
    private readonly Dictionary<string, string> _types = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _units = new(StringComparer.Ordinal);
    private readonly Dictionary<string, double> _samples = new(StringComparer.Ordinal);

    private MetricText() { }

    public IReadOnlyDictionary<string, string> Types => _types;

    public IReadOnlyDictionary<string, string> Units => _units;

    /// <summary>The values, by name and labels as <c>name{a="b",c="d"}</c> with the labels in order.</summary>
    public IReadOnlyDictionary<string, double> Samples => _samples;

    public bool Ended { get; private set; }

    public static MetricText Read(string text)
    {
        var read = new MetricText();
        if (!text.EndsWith('\n'))
            throw new FormatException("The last line has no end.");
        foreach (var line in text.Split('\n')[..^1])
        {
            if (read.Ended)
                throw new FormatException($"After the end: {line}");
            read.TakeLine(line);
        }

        read.CheckHistograms();
        return read;
    }

    private void TakeLine(string line)
    {
        if (line == "# EOF")
        {
            Ended = true;
        }
        else if (line.StartsWith("# TYPE ", StringComparison.Ordinal))
        {
            var words = line.Split(' ');
            if (words.Length != 4 || words[3] is not ("counter" or "gauge" or "histogram" or "info" or "unknown"))
                throw new FormatException(line);
            if (!_types.TryAdd(words[2], words[3]))
                throw new FormatException($"A family twice: {line}");
        }
        else if (line.StartsWith("# UNIT ", StringComparison.Ordinal))
        {
            var words = line.Split(' ');
            if (words.Length != 4 || !words[2].EndsWith("_" + words[3], StringComparison.Ordinal))
                throw new FormatException($"The unit must end the name: {line}");
            _units.Add(words[2], words[3]);
        }
        else if (!line.StartsWith("# HELP ", StringComparison.Ordinal))
        {
            TakeSample(line);
        }
    }

    private void TakeSample(string line)
    {
        var match = SampleLine().Match(line);
        if (!match.Success)
            throw new FormatException($"No sample: {line}");
        var name = match.Groups["name"].Value;
        if (FamilyOf(name) is null)
            throw new FormatException($"No family before {line}");
        var labels = string.Join(',', match.Groups["label"].Captures.Select(c => c.Value).Order(StringComparer.Ordinal));
        var number = match.Groups["value"].Value;
        var value = number switch
        {
            "+Inf" => double.PositiveInfinity,
            "NaN" => double.NaN,
            _ => double.Parse(number, NumberStyles.Float, CultureInfo.InvariantCulture),
        };
        if (!_samples.TryAdd(labels.Length == 0 ? name : $"{name}{{{labels}}}", value))
            throw new FormatException($"A sample twice: {line}");
    }

    // OpenMetrics names the family without the suffix of its samples, the older format a counter's with it.
    private string? FamilyOf(string name)
    {
        if (_types.ContainsKey(name))
            return name;
        foreach (var suffix in (string[])["_total", "_bucket", "_sum", "_count", "_info", "_created"])
        {
            if (name.EndsWith(suffix, StringComparison.Ordinal) && _types.ContainsKey(name[..^suffix.Length]))
                return name[..^suffix.Length];
        }

        return null;
    }

    private void CheckHistograms()
    {
        foreach (var (family, _) in _types.Where(type => type.Value == "histogram"))
        {
            var buckets = _samples.Where(s => s.Key.StartsWith(family + "_bucket{", StringComparison.Ordinal))
                .Select(s => (Bound: Bound(s.Key), s.Value)).OrderBy(b => b.Bound).ToList();
            for (var i = 1; i < buckets.Count; i++)
            {
                if (buckets[i].Value < buckets[i - 1].Value)
                    throw new FormatException($"{family}: a bucket holds less than the one below it.");
            }

            if (buckets.Count == 0 || !double.IsPositiveInfinity(buckets[^1].Bound) || buckets[^1].Value != _samples[family + "_count"])
                throw new FormatException($"{family}: the last bucket is not all of it.");
        }

        static double Bound(string key)
        {
            var text = BucketBound().Match(key).Groups[1].Value;
            return text == "+Inf" ? double.PositiveInfinity : double.Parse(text, CultureInfo.InvariantCulture);
        }
    }

    [GeneratedRegex("""^(?<name>[a-zA-Z_:][a-zA-Z0-9_:]*)(\{((?<label>[a-zA-Z_][a-zA-Z0-9_]*="(\\.|[^"\\])*")(,(?<label>[a-zA-Z_][a-zA-Z0-9_]*="(\\.|[^"\\])*"))*)?\})? (?<value>[^ ]+)( [0-9.]+)?$""")]
    private static partial Regex SampleLine();

    [GeneratedRegex("le=\"([^\"]+)\"")]
    private static partial Regex BucketBound();
}
