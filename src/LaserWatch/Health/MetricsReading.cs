using System.Diagnostics.Metrics;
using System.Globalization;
using System.Reflection;
using System.Text;

namespace LaserWatch.Health;

/// <summary>What the agent's meter says now, as text of OpenMetrics 1.0.</summary>
/// <remarks>
/// Names and units by OpenTelemetry's rules for that text: dots become <c>_</c>, the unit is spelled at the end, counters end in <c>_total</c>.
/// Observable instruments are asked when somebody reads; histograms are counted as they come.
/// </remarks>
internal sealed class MetricsReading : IDisposable
{
    private readonly MeterListener _listener = new();
    private readonly SortedDictionary<string, (Instrument Instrument, Buckets? Buckets)> _instruments = new(StringComparer.Ordinal);
    private readonly Dictionary<Instrument, List<(string Labels, string Value)>> _observed = [];
    private readonly Lock _reading = new();
    private readonly string _instance;
    private readonly string _created;

    /// <param name="instance">The agent's name among others.</param>
    /// <param name="now">Since when counters count.</param>
    public MetricsReading(Meter meter, string instance, DateTimeOffset now)
    {
        _instance = instance;
        _created = Number(now.ToUnixTimeMilliseconds() * 1e-3);
        _listener.InstrumentPublished = (instrument, listener) =>
        {
            if (!ReferenceEquals(instrument.Meter, meter)) // another agent in this process
                return;
            var buckets = instrument is Histogram<double> histogram ? new Buckets([.. histogram.Advice!.HistogramBucketBoundaries!]) : null;
            lock (_reading)
                _instruments.Add(NameOf(instrument), (instrument, buckets));
            listener.EnableMeasurementEvents(instrument, buckets);
        };
        _listener.SetMeasurementEventCallback<double>((instrument, value, tags, buckets) =>
        {
            if (buckets is Buckets counting)
                counting.Count(value);
            else
                Observe(instrument, Number(value), tags);
        });
        _listener.SetMeasurementEventCallback<long>((instrument, value, tags, _) => Observe(instrument, value.ToString(CultureInfo.InvariantCulture), tags));
        _listener.SetMeasurementEventCallback<int>((instrument, value, tags, _) => Observe(instrument, value.ToString(CultureInfo.InvariantCulture), tags));
        _listener.Start();
    }

    public byte[] Print()
    {
        var text = new StringBuilder(8 * 1024);
        lock (_reading)
        {
            _observed.Clear();
            _listener.RecordObservableInstruments();
            Family(text, "target", "info", null, "Target metadata");
            text.Append(CultureInfo.InvariantCulture, $"target_info{{service_name=\"laserwatch\",service_version=\"{Escaped(Version)}\",service_instance_id=\"{Escaped(_instance)}\"}} 1\n");
            foreach (var (name, (instrument, buckets)) in _instruments)
            {
                if (buckets is not null)
                    Print(text, name, instrument, buckets);
                else if (_observed.TryGetValue(instrument, out var values))
                    Print(text, name, instrument, values);
            }
        }

        text.Append("# EOF\n");
        return Encoding.UTF8.GetBytes(text.ToString());
    }

    public void Dispose() => _listener.Dispose();

    private void Observe(Instrument instrument, string value, ReadOnlySpan<KeyValuePair<string, object?>> tags)
    {
        var labels = "";
        if (tags.Length > 0)
        {
            var sorted = tags.ToArray().OrderBy(tag => tag.Key, StringComparer.Ordinal);
            labels = "{" + string.Join(',', sorted.Select(tag => $"{tag.Key}=\"{Escaped($"{tag.Value}")}\"")) + "}";
        }

        // Only while the lock is held, since only the printing asks.
        if (!_observed.TryGetValue(instrument, out var values))
            _observed.Add(instrument, values = []);
        values.Add((labels, value));
    }

    private void Print(StringBuilder text, string name, Instrument instrument, List<(string Labels, string Value)> values)
    {
        var isCounter = instrument.GetType().Name.StartsWith("ObservableCounter", StringComparison.Ordinal);
        var sample = isCounter ? name + "_total" : name;
        Family(text, name, isCounter ? "counter" : "gauge", UnitOf(instrument), instrument.Description);
        foreach (var (labels, value) in values)
        {
            text.Append(CultureInfo.InvariantCulture, $"{sample}{labels} {value}\n");
            if (isCounter)
                text.Append(CultureInfo.InvariantCulture, $"{name}_created{labels} {_created}\n");
        }
    }

    private void Print(StringBuilder text, string name, Instrument instrument, Buckets buckets)
    {
        Family(text, name, "histogram", UnitOf(instrument), instrument.Description);
        var (counts, sum) = buckets.Read();
        var below = 0L;
        for (var i = 0; i < counts.Length; i++)
        {
            below += counts[i];
            var bound = i < buckets.Bounds.Length ? Bound(buckets.Bounds[i]) : "+Inf";
            text.Append(CultureInfo.InvariantCulture, $"{name}_bucket{{le=\"{bound}\"}} {below}\n");
        }

        text.Append(CultureInfo.InvariantCulture, $"{name}_sum {Number(sum)}\n{name}_count {below}\n{name}_created {_created}\n");
    }

    private static void Family(StringBuilder text, string name, string type, string? unit, string? help)
    {
        text.Append(CultureInfo.InvariantCulture, $"# TYPE {name} {type}\n");
        if (unit is not null)
            text.Append(CultureInfo.InvariantCulture, $"# UNIT {name} {unit}\n");
        if (help is not null)
            text.Append(CultureInfo.InvariantCulture, $"# HELP {name} {Escaped(help)}\n");
    }

    private static string NameOf(Instrument instrument) => instrument.Name.Replace('.', '_') + (UnitOf(instrument) is { } unit ? "_" + unit : "");

    // What is only a word for what is counted, in braces, stands in no name.
    private static string? UnitOf(Instrument instrument) => instrument.Unit switch
    {
        "s" => "seconds",
        "By" => "bytes",
        null or "1" or ['{', ..] => null,
        var other => throw new InvalidOperationException($"The unit {other} of {instrument.Name} has no spelling here."),
    };

    // The format wants a point in it.
    private static string Bound(double bound) => Number(bound) is var text && text.All(char.IsAsciiDigit) ? text + ".0" : text;

    private static string Number(double value) =>
        double.IsPositiveInfinity(value) ? "+Inf" : double.IsNegativeInfinity(value) ? "-Inf" : value.ToString("R", CultureInfo.InvariantCulture);

    private static string Escaped(string text) =>
        text.Replace("\\", "\\\\", StringComparison.Ordinal).Replace("\"", "\\\"", StringComparison.Ordinal).Replace("\n", "\\n", StringComparison.Ordinal);

    private static string Version => typeof(MetricsReading).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion ?? "";

    /// <summary>One histogram. Counting allocates nothing.</summary>
    private sealed class Buckets(double[] bounds)
    {
        private readonly long[] _counts = new long[bounds.Length + 1];
        private readonly Lock _counting = new();
        private double _sum;

        public double[] Bounds => bounds;

        public void Count(double value)
        {
            var place = 0;
            while (place < bounds.Length && value > bounds[place])
                place++;
            lock (_counting)
            {
                _counts[place]++;
                _sum += value;
            }
        }

        public (long[] Counts, double Sum) Read()
        {
            lock (_counting)
                return ([.. _counts], _sum);
        }
    }
}
