using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>What the channels read in some minutes of a recording: the median of each, which a corner or a wild sample does not move.</summary>
/// <remarks>Of tube current, power and air only samples with the beam on count, since between cuts they are at rest; where no beam is told, all.</remarks>
internal sealed class MinuteReadings(IEnumerable<Instant> minutes)
{
    private static readonly HashSet<Channel> OfTheBeam = [Channel.TubeCurrent, Channel.Power, Channel.AirPressure, Channel.AirFlow];

    private readonly List<(Instant Begin, Dictionary<Channel, List<double>> Values)> _minutes = [.. minutes.Distinct().Order().Select(begin => (begin, new Dictionary<Channel, List<double>>()))];
    private bool _beam = true;

    /// <summary>Reads the recording to its end.</summary>
    public MinuteReadings Read(RecordingReader reader)
    {
        while (reader.Read() is { } e)
            Take(e);
        return this;
    }

    /// <summary>Null where there is none in the minute.</summary>
    public double? Median(Instant minute, Channel channel)
    {
        var at = _minutes.FindIndex(m => m.Begin == minute);
        if (at < 0 || !_minutes[at].Values.TryGetValue(channel, out var values))
            return null;
        var sorted = values.Order().ToList();
        return 0.5 * (sorted[(sorted.Count - 1) / 2] + sorted[sorted.Count / 2]);
    }

    public IEnumerable<Channel> Channels(Instant minute) =>
        _minutes.Where(m => m.Begin == minute).SelectMany(m => m.Values.Keys).OrderBy(channel => channel.Index);

    private void Take(RecordingEvent e)
    {
        if (e.Kind != RecordingEventKind.Telemetry)
            return;
        foreach (var value in e.Values)
        {
            if (value.Channel == Channel.Lasing)
                _beam = value.Value >= 0.5;
        }

        foreach (var (begin, kept) in _minutes)
        {
            if (e.At < begin || e.At >= begin + TimeSpan.FromMinutes(1))
                continue;
            foreach (var value in e.Values)
            {
                if (_beam || !OfTheBeam.Contains(value.Channel))
                    (kept.TryGetValue(value.Channel, out var list) ? list : kept[value.Channel] = []).Add(value.Value);
            }
        }
    }
}
