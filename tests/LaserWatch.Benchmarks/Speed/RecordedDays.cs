using System.Globalization;
using System.Text;
using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Some days of a simulated machine, kept in memory to be shown to many watches, and to one again and again.</summary>
internal sealed class RecordedDays
{
    private readonly List<Moment> _moments = [];

    /// <param name="days">How many of them there are in the moments.</param>
    public RecordedDays(int days, IEnumerable<SimulatedMoment> moments)
    {
        Days = days;
        foreach (var moment in moments)
            _moments.Add(new Moment(moment.At, [.. moment.Jobs], [.. moment.Values]));
        Samples = _moments.Sum(m => (long)m.Values.Length);
    }

    public int Days { get; }

    public long Samples { get; }

    public int Count => _moments.Count;

    public Instant At(int number) => _moments[number].At;

    public ChannelValue[] ValuesAt(int number) => _moments[number].Values;

    /// <summary>The same values as text, as messages bring them.</summary>
    public byte[][] TextsAt(int number) => _moments[number].Texts;

    /// <summary>One moment with its tick, as the agent would bring it; the times moved on by whole days.</summary>
    /// <returns>How many samples it was.</returns>
    public int Play(int number, MachineWatch watch, TimeSpan later)
    {
        var moment = _moments[number];
        foreach (var job in moment.Jobs)
            watch.Observe(job with { At = job.At + later });
        watch.Observe(moment.At + later, moment.Values);
        watch.Tick(moment.At + later);
        return moment.Values.Length;
    }

    /// <summary>As <see cref="Play"/>, each sample by itself, as messages bring them.</summary>
    public int PlayOneByOne(int number, MachineWatch watch, TimeSpan later)
    {
        var moment = _moments[number];
        foreach (var job in moment.Jobs)
            watch.Observe(job with { At = job.At + later });
        foreach (ref readonly var value in moment.Values.AsSpan())
            watch.Observe(moment.At + later, new ReadOnlySpan<ChannelValue>(in value));
        watch.Tick(moment.At + later);
        return moment.Values.Length;
    }

    /// <summary>As <see cref="PlayOneByOne"/>, from the messages that bring the samples: a topic for each channel of the machine, its value as text.</summary>
    public int PlayMessages(int number, Shop shop, string[] topics, MessageDecoder decoder, DecodedMessage into, TimeSpan later)
    {
        var moment = _moments[number];
        var at = moment.At + later;
        MachineWatch? watch = null;
        for (var i = 0; i < moment.Values.Length; i++)
        {
            decoder.Decode(topics[moment.Values[i].Channel.Index], moment.Texts[i], at, into);
            watch = shop.Find(into.Machine!)!;
            var sample = into.Samples[0];
            watch.Observe(sample.At, [new ChannelValue(sample.Channel, sample.Value)]);
        }

        foreach (var job in moment.Jobs)
            watch?.Observe(job with { At = job.At + later });
        watch?.Tick(at);
        return moment.Values.Length;
    }

    private sealed record Moment(Instant At, JobEvent[] Jobs, ChannelValue[] Values)
    {
        public byte[][] Texts { get; } = [.. Values.Select(v => Encoding.UTF8.GetBytes(v.Value.ToString(CultureInfo.InvariantCulture)))];
    }
}
