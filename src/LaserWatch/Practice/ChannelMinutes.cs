using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>The median of one channel over one minute of one run, or of one rest between runs.</summary>
/// <param name="From">The first sample in it.</param>
/// <param name="Job">Null: no run was under way, or its job is not known.</param>
/// <param name="Run">Counts runs and rests alike: minutes of one run share it.</param>
public readonly record struct ChannelMinute(Instant From, string? Job, int Run, double Median);

/// <summary>What each channel did, minute by minute, so that today can be held against other runs of the same job.</summary>
/// <remarks>Current, power and air count while the beam is on only: between two lines of a cut they say nothing of the machine.</remarks>
public sealed class ChannelMinutes
{
    private static readonly Channel[] OfTheBeam = [Channel.TubeCurrent, Channel.Power, Channel.AirPressure, Channel.AirFlow];

    private readonly Dictionary<Channel, List<ChannelMinute>> _minutes = [];
    private readonly Dictionary<Channel, Open> _open = [];
    private string? _job;
    private int _run;

    /// <summary>A value taken now says something of the machine.</summary>
    public static bool Counts(Channel channel, bool inRun, bool beamOn) => !inRun || beamOn || !OfTheBeam.Contains(channel);

    /// <summary>A run began or ended.</summary>
    public void Begin(string? job)
    {
        Close();
        _job = job;
        _run++;
    }

    /// <param name="inRun">A run is under way.</param>
    public void Take(Channel channel, Instant at, double value, bool inRun, bool beamOn)
    {
        if (!Counts(channel, inRun, beamOn))
            return;
        if (!_open.TryGetValue(channel, out var open))
            _open[channel] = open = new Open();
        if (open.Values.Count > 0 && at - open.From >= TimeSpan.FromMinutes(1))
            Close(channel, open);
        if (open.Values.Count == 0)
            open.From = at;
        open.Values.Add(value);
    }

    /// <summary>All minutes so far, the present one as far as it has come.</summary>
    public IReadOnlyList<ChannelMinute> Of(Channel channel)
    {
        IReadOnlyList<ChannelMinute> over = _minutes.GetValueOrDefault(channel) ?? [];
        return _open.GetValueOrDefault(channel) is { Values.Count: > 0 } open
            ? [.. over, new ChannelMinute(open.From, _job, _run, Middle.Of(open.Values))]
            : over;
    }

    public IReadOnlyCollection<Channel> Channels => _open.Keys;

    /// <summary>The median of the same job's earlier runs, or of earlier rests; null where there was none.</summary>
    public double? Usual(Channel channel)
    {
        var earlier = (_minutes.GetValueOrDefault(channel) ?? []).Where(m => m.Job == _job && m.Run < _run).Select(m => m.Median).ToList();
        return earlier.Count == 0 ? null : Middle.Of(earlier);
    }

    private void Close()
    {
        foreach (var (channel, open) in _open)
            Close(channel, open);
    }

    private void Close(Channel channel, Open open)
    {
        if (open.Values.Count == 0)
            return;
        if (!_minutes.TryGetValue(channel, out var over))
            _minutes[channel] = over = [];
        over.Add(new ChannelMinute(open.From, _job, _run, Middle.Of(open.Values)));
        open.Values.Clear();
    }

    private sealed class Open
    {
        public readonly List<double> Values = [];
        public Instant From;
    }
}
