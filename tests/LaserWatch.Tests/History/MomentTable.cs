using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Samples as moments, and back.</summary>
internal static class MomentTable
{
    /// <param name="samples">In time order, at most <see cref="Moments.MostRows"/> instants.</param>
    /// <param name="silent">A channel that has a column and tells nothing; null: none has.</param>
    public static Moments Of(IReadOnlyList<Sample> samples, Channel? silent = null)
    {
        var channels = samples.Select(sample => sample.Channel).Concat(silent is null ? [] : [silent]).Distinct().OrderBy(channel => channel.Index).ToArray();
        var times = samples.Select(sample => sample.At.UnixNanoseconds).Distinct().ToArray();
        var columns = channels.Select(_ => Enumerable.Repeat(double.NaN, times.Length + 1).ToArray()).ToArray();
        foreach (var sample in samples)
            columns[Array.IndexOf(channels, sample.Channel)][1 + Array.IndexOf(times, sample.At.UnixNanoseconds)] = sample.Value;
        return new Moments(channels, [0, .. times], columns, 1, times.Length);
    }

    public static List<Sample> ToSamples(in Moments moments)
    {
        List<Sample> samples = [];
        for (var row = 0; row < moments.Count; row++)
        {
            for (var place = 0; place < moments.Channels.Length; place++)
            {
                if (!double.IsNaN(moments[place, row]))
                    samples.Add(new Sample(moments.Channels[place], new Instant(moments.Times[row]), moments[place, row]));
            }
        }

        return samples;
    }
}
