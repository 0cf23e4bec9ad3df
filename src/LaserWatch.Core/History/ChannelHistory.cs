using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>One channel by the day: the median of the day's minute means.</summary>
/// <remarks>
/// Where the beam makes the difference (<see cref="NeedsBeam"/>), only samples with the beam on count. Minutes of a day resemble each other, so their scatter alone would
/// promise too much: how far days stray from their neighbours is added to each day's error. Spans annotated as faulty, or to be ignored, are left out.
/// </remarks>
public sealed class ChannelHistory : IHistoryListener
{
    private const long NanosecondsPerMinute = 60_000_000_000;

    private readonly Channel _channel;
    private readonly Channel? _beamBy;
    private readonly double _beamFrom;
    private readonly PlausibleRange _range;
    private readonly List<double> _minutes = [];
    private readonly List<DailyEstimate> _days = [];
    private readonly AnnotationBook _annotations = new();
    private bool _beam;
    private Sample _held;
    private bool _isHeld;
    private long _minute = long.MinValue;
    private long _minuteBegin;
    private double _minuteTimes;
    private double _sum;
    private int _count;

    /// <param name="beamBy"><c>lasing</c>, or <c>tube_current</c> where that is not wired; null: all minutes count.</param>
    public ChannelHistory(Channel channel, Channel? beamBy, MonitorOptions options)
    {
        _channel = channel;
        _beamBy = beamBy;
        _beamFrom = beamBy == Channel.TubeCurrent ? options.Runs.BeamOnMilliamps : 0.5;
        _range = channel.IsCanonical ? options.Sensors.RangeOf(channel) : new PlausibleRange(double.MinValue, double.MaxValue);
        Channels = beamBy is null || beamBy == channel ? [channel] : [channel, beamBy];
    }

    public IReadOnlyCollection<Channel> Channels { get; }

    /// <summary>One estimate a day, after the walk.</summary>
    public IReadOnlyList<DailyEstimate> Days => _days;

    /// <summary>What the channel reads with the beam off says nothing of it.</summary>
    public static bool NeedsBeam(Channel channel) => channel == Channel.TubeCurrent || channel == Channel.Power || channel == Channel.AirPressure
        || channel == Channel.AirFlow || channel == Channel.CoolantIn || channel == Channel.CoolantOut || channel == Channel.CoolantFlow;

    public void Begin(HistorySpan span)
    {
    }

    public void Take(JobEvent run)
    {
    }

    public void Take(ServiceEvent service) => _annotations.Take(service);

    public void Take(ReadOnlySpan<Sample> samples)
    {
        foreach (ref readonly var sample in samples)
        {
            // Whether the beam was on at its instant may be told after it.
            if (_isHeld && sample.At != _held.At)
                Settle();
            if (sample.Channel == _beamBy)
                _beam = sample.Value >= _beamFrom;
            if (sample.Channel == _channel && _range.Holds(sample.Value) && !_annotations.LeavesOut(sample.At))
                (_held, _isHeld) = (sample, true);
        }
    }

    public void Take(in Moments moments)
    {
        Settle();
        var times = moments.Times;
        var values = moments.Of(_channel);
        var beams = _beamBy is null ? [] : moments.Of(_beamBy);
        for (var i = 0; i < times.Length && i < values.Length; i++)
        {
            if (i < beams.Length && beams[i] is var beam && !double.IsNaN(beam))
                _beam = beam >= _beamFrom;
            // Nothing told is in no range.
            if ((_beam || _beamBy is null) && _range.Holds(values[i]) && !_annotations.LeavesOut(new Instant(times[i])))
                Take(times[i], values[i]);
        }
    }

    public void End()
    {
        Settle();
        CloseMinute();
        CloseDay();
        var (times, values, within) = (new double[_days.Count], new double[_days.Count], new double[_days.Count]);
        for (var i = 0; i < _days.Count; i++)
            (times[i], values[i], within[i]) = (ChannelTrend.ToDays(_days[i].At), _days[i].Value, 1);
        var wander = _days.Count < 2 ? 0 : HealthSeries.WanderOfDays(times, values, within, _days.Average(day => day.Error), 0);
        for (var i = 0; i < _days.Count; i++)
            _days[i] = _days[i] with { Error = Math.Sqrt((_days[i].Error * _days[i].Error) + (wander * wander)) };
    }

    private void Settle()
    {
        if (_isHeld && (_beam || _beamBy is null))
            Take(_held.At.UnixNanoseconds, _held.Value);
        _isHeld = false;
    }

    private void Take(long at, double value)
    {
        if ((ulong)(at - _minuteBegin) >= NanosecondsPerMinute || _minute == long.MinValue)
            BeginMinute(at);
        _sum += value;
        _count++;
    }

    private void BeginMinute(long at)
    {
        var minute = Math.DivRem(at, NanosecondsPerMinute, out var rest) - (rest < 0 ? 1 : 0);
        CloseMinute();
        if (DayOf(minute) != DayOf(_minute))
            CloseDay();
        (_minute, _minuteBegin) = (minute, minute * NanosecondsPerMinute);
    }

    private static long DayOf(long minute) => (long)Math.Floor(minute / 1440.0);

    private void CloseMinute()
    {
        if (_count > 0)
        {
            _minutes.Add(_sum / _count);
            _minuteTimes += _minute + 0.5;
        }

        (_sum, _count) = (0, 0);
    }

    private void CloseDay()
    {
        if (_minutes.Count == 0)
            return;
        var values = _minutes.ToArray();
        var median = RobustLocation.Median(values);
        for (var i = 0; i < values.Length; i++)
            values[i] = Math.Abs(values[i] - median);
        // 1.2533: the standard error of a median beside that of a mean, for normal minutes.
        var error = 1.2533 * 1.4826 * RobustLocation.Median(values) / Math.Sqrt(values.Length);
        var at = new Instant((long)(_minuteTimes / _minutes.Count * 60e9));
        _days.Add(new(at, DateOnly.FromDateTime(DateTime.UnixEpoch.AddDays(DayOf(_minute))), median, error, _minutes.Count));
        _minutes.Clear();
        _minuteTimes = 0;
    }
}
