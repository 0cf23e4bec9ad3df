using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>A time in which no sensor of the machine was heard: it was off, or the watch was.</summary>
/// <param name="MeterHours">By how much the machine's hour meter had moved on when it was read again; null where there is no meter.</param>
public readonly record struct Silence(Instant From, Instant To, double? MeterHours)
{
    public double Seconds => To.SecondsSince(From);
}

/// <summary>Finds the silences in a machine's samples, and follows its hour meter across them.</summary>
internal sealed class Silences
{
    /// <summary>Shorter ones are not told.</summary>
    public static readonly TimeSpan Shortest = TimeSpan.FromMinutes(10);

    // A meter that shows whole hours moves by a whole one at once; more than that and the time passed is another meter.
    private const double MeterStepHours = 1.1;

    private readonly List<Silence> _found = [];
    private readonly List<int> _unread = [];
    private long? _lastAt;
    private double? _meter;
    private long _meterAt;

    public IReadOnlyList<Silence> Found => _found;

    /// <summary>What the hour meter moved on by in all, without what it was set back or jumped; null where it was never heard twice.</summary>
    public double? MeterHours { get; private set; }

    public double? MeterFirst { get; private set; }

    public double? MeterLast => _meter;

    /// <summary>A sample came.</summary>
    /// <param name="at">ns since 1970.</param>
    public void Take(long at)
    {
        if (_lastAt is { } last && at - last > Shortest.Ticks * 100)
        {
            _unread.Add(_found.Count);
            _found.Add(new(new Instant(last), new Instant(at), null));
        }

        _lastAt = at;
    }

    /// <summary>It was the hour meter's.</summary>
    public void ReadMeter(long at, double hours)
    {
        MeterFirst ??= hours;
        if (_meter is { } before)
        {
            var step = hours - before;
            var moved = step >= 0 && step <= ((at - _meterAt) / 1e9 / 3600) + MeterStepHours ? step : 0;
            MeterHours = (MeterHours ?? 0) + moved;
            // Of several silences between two readings the longest is the likeliest to have hidden beam; nothing tells more.
            if (_unread.Count > 0)
            {
                var longest = _unread.MaxBy(index => _found[index].Seconds);
                foreach (var index in _unread)
                    _found[index] = _found[index] with { MeterHours = index == longest ? moved : 0 };
            }
        }

        _unread.Clear();
        (_meter, _meterAt) = (hours, at);
    }
}
