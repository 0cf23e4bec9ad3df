using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>Works out, in one pass over a machine's stored samples, how it was run: time inside and outside each limit, hours of beam, days of use.</summary>
/// <remarks>
/// Weighed by time: a sample counts until the next of its channel, at most <c>rules.sensors.silentIntervals</c> times the channel's usual interval
/// (but no less than <c>silentAtLeastSeconds</c>, two minutes for commanded power and beam, and no more than 15 minutes). Time beyond is
/// neither in nor out: it is not known. Samples and runs come in time order, in blocks of any size; the result does not depend on the blocks.
/// </remarks>
public sealed class OperatingConditions : IHistoryListener
{
    private static readonly Channel[] Ranged =
    [
        Channel.AirPressure, Channel.AirFlow, Channel.CoolantIn, Channel.CoolantOut, Channel.CoolantFlow, Channel.AmbientTemperature, Channel.AmbientHumidity,
    ];

    private readonly MonitorOptions _options;
    private readonly Instant _from;
    private readonly Instant _to;
    private readonly MachineMoment _moment;
    private readonly BeamUse _use = new();
    private readonly Silences _silences = new();
    private readonly List<Limited> _limits;
    private readonly LimitMeter _all = new();
    private readonly DayRanges?[] _ranges = new DayRanges?[Channel.Canonical.Count];
    private readonly List<Channel> _heard = [];
    private Column[] _columns = [];
    private readonly HashSet<string> _own = new(StringComparer.Ordinal);
    private long? _first;
    private long _last;
    private long _lastSample;
    private long _heardUntil = long.MinValue;

    /// <param name="channels">Those that the machine has; all of them are told of.</param>
    /// <param name="from">Earlier samples are left out; a run that began before is still under way.</param>
    /// <param name="to">This and later ones are left out.</param>
    public OperatingConditions(MonitorOptions options, JobBook jobs, IReadOnlyCollection<Channel> channels, Instant from, Instant to)
    {
        (_options, Channels, _from, _to) = (options, channels, from, to);
        _moment = new MachineMoment(options, jobs);
        _limits = [.. LimitRule.Of(options).Select(rule => new Limited(rule))];
        foreach (var channel in Ranged)
            _ranges[channel.Index] = new DayRanges();
    }

    public IReadOnlyCollection<Channel> Channels { get; }

    public void Begin(HistorySpan span)
    {
    }

    /// <exception cref="ArgumentException">A sample is older than what came before it.</exception>
    public void Take(ReadOnlySpan<Sample> samples)
    {
        foreach (ref readonly var sample in samples)
        {
            if (sample.At >= _from && sample.At < _to)
                Take(sample);
        }
    }

    /// <exception cref="ArgumentException">A row is older than what came before it.</exception>
    public void Take(in Moments moments)
    {
        var times = moments.Times;
        var columns = ColumnsOf(moments.Channels);
        var meter = moments.Channels.IndexOf(Channel.Runtime);
        for (var row = 0; row < times.Length; row++)
        {
            var at = times[row];
            if (at < _from.UnixNanoseconds || at >= _to.UnixNanoseconds)
                continue;
            Advance(at);
            _first ??= at;
            _lastSample = at;
            _silences.Take(at);
            var (first, last) = (long.MaxValue, _heardUntil);
            for (var place = 0; place < columns.Length; place++)
            {
                var value = moments[place, row];
                if (double.IsNaN(value))
                    continue;
                var held = columns[place].Held ??= HeldOf(columns[place].Channel);
                held.Take(at, value);
                (first, last) = (Math.Min(first, held.Until), Math.Max(last, held.Until));
            }

            _moment.MindEnd(first);
            _heardUntil = last;
            if (meter >= 0 && !double.IsNaN(moments[meter, row]))
                _silences.ReadMeter(at, moments[meter, row]);
            if (!_moment.MayBeInUse)
                continue;
            for (var place = 0; place < columns.Length; place++)
            {
                ref readonly var column = ref columns[place];
                if (column.Days is { } days && moments[place, row] is var value && !double.IsNaN(value) && column.Held!.Until > at)
                    days.Take(at, value);
            }
        }
    }

    /// <exception cref="ArgumentException">It is older than what came before it.</exception>
    public void Take(JobEvent run)
    {
        if (run.At >= _to)
            return;
        if (run.At >= _from)
            Advance(run.At.UnixNanoseconds);
        _moment.Take(run);
    }

    public void Take(ServiceEvent service)
    {
    }

    public void End()
    {
    }

    private void Take(in Sample sample)
    {
        Advance(sample.At.UnixNanoseconds);
        _first ??= _last;
        _lastSample = _last;
        _silences.Take(_last);
        var held = HeldOf(sample.Channel);
        held.Take(_last, sample.Value);
        _moment.MindEnd(held.Until);
        _heardUntil = Math.Max(_heardUntil, held.Until);
        if (sample.Channel == Channel.Runtime)
            _silences.ReadMeter(_last, sample.Value);
        if (DaysOf(sample.Channel) is { } days && held.Until > _last && _moment.MayBeInUse)
            days.Take(_last, sample.Value);
    }

    private HeldChannel HeldOf(Channel channel) => _moment.Held(channel) ?? Meet(channel);

    private DayRanges? DaysOf(Channel channel) => channel.IsCanonical ? _ranges[channel.Index] : null;

    private Column[] ColumnsOf(ReadOnlySpan<Channel> channels)
    {
        if (_columns.Length != channels.Length)
            _columns = new Column[channels.Length];
        for (var place = 0; place < channels.Length; place++)
        {
            if (_columns[place].Channel != channels[place])
                _columns[place] = new() { Channel = channels[place], Days = DaysOf(channels[place]) };
        }

        return _columns;
    }

    /// <summary>What came of it, up to <paramref name="end"/> where that comes before the end asked for; nothing can be taken afterwards.</summary>
    public OperatingSummary Finish(Instant? end = null)
    {
        var last = end is { } given && given < _to ? given : _to;
        if (_moment.At == long.MinValue || last.UnixNanoseconds > _last)
            Advance(last.UnixNanoseconds);
        return new(
            _first is { } first ? new Instant(first) : null,
            _first is null ? null : new Instant(_lastSample),
            _heard.Sum(channel => _moment.Held(channel)!.Samples),
            [.. _heard.OrderBy(channel => channel.Index).Select(Told)],
            [.. _limits.Select(limit => limit.Read(Lack(limit)))],
            _all.Read(), _use.Heard / 1e9, _use.Beam / 1e9, _use.Run / 1e9, _use.BeamInRun / 1e9, _use.BandSeconds, _use.BeamOfUnknownPower / 1e9, _use.Days,
            Ranged.Select(channel => (channel, days: _ranges[channel.Index]!.Finish())).Where(range => range.days.Count > 0).ToDictionary(range => range.channel, range => range.days),
            _silences.Found, _silences.MeterFirst, _silences.MeterLast, _silences.MeterHours);
    }

    private ChannelHeard Told(Channel channel)
    {
        var held = _moment.Held(channel)!;
        return new(channel, held.Samples, held.UsualSeconds, held.Implausible);
    }

    private static string? Lack(Limited limit) =>
        limit.Rule.Lack ?? (limit.Read(null).Widest.KnownSeconds == 0 ? "what it needs was never heard together" : null);

    private HeldChannel Meet(Channel channel)
    {
        _heard.Add(channel);
        if (_own.Add(channel.Name))
            _limits.AddRange(LimitRule.Of(_options, channel).Select(rule => new Limited(rule)));
        return _moment.Meet(channel);
    }

    private void Advance(long to)
    {
        if (_moment.At == long.MinValue)
        {
            _moment.MoveTo(to);
            _last = to;
            return;
        }

        if (to < _last)
            throw new ArgumentException($"{new Instant(to)} comes after {new Instant(_last)}: samples and runs must come in time order.", nameof(to));
        if (to == _last)
            return;
        _moment.FollowBeam();
        while (_moment.At < to)
        {
            if (_moment.At >= _heardUntil)
            {
                _moment.MoveTo(to);
                break;
            }

            var end = _moment.NextChange(Math.Min(to, DayRanges.EndOfDay(_moment.At)));
            AddPiece(_moment.At, end);
            _moment.MoveTo(end);
            _moment.FollowBeam();
        }

        _last = to;
    }

    private void AddPiece(long from, long to)
    {
        var beam = _moment.BeamOn == true;
        _use.Add(from, to, beam, _moment.IsInRun, beam ? _moment[Channel.Power] : null);
        var (judged, outside) = (0, 0);
        foreach (var limit in _limits)
        {
            if ((limit.Rule.OnlyInBeam && !beam) || limit.Rule.Lack is not null || limit.Rule.Judge(_moment) is not { } found)
                continue;
            limit.Add(from, to, found, beam);
            judged++;
            if (found.Excess > 0)
                outside++;
        }

        if (beam && judged > 0)
            _all.Add(from, to, outside, 0, outside);
    }

    /// <summary>What a channel's samples go into.</summary>
    private struct Column
    {
        public Channel Channel;
        public HeldChannel? Held;
        public DayRanges? Days;
    }

    private sealed class Limited(LimitRule rule)
    {
        private readonly LimitMeter _always = new();
        private readonly LimitMeter _inBeam = new();

        public LimitRule Rule => rule;

        public void Add(long from, long to, LimitRule.Judged found, bool beam)
        {
            if (!rule.OnlyInBeam)
                _always.Add(from, to, found.Value, found.Limit, found.Excess);
            if (beam)
                _inBeam.Add(from, to, found.Value, found.Limit, found.Excess);
        }

        public LimitUse Read(string? lack) => new(rule.Key, rule.Name, rule.Unit, rule.Limit, lack, rule.OnlyInBeam, _always.Read(), _inBeam.Read());
    }
}
