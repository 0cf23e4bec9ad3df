using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>The machine's own usual coolant flow: the median of the first hour of minutes in which the tube needs it.</summary>
/// <remarks>A pump that is off between jobs is nobody's fault, so those minutes do not count.</remarks>
internal sealed class UsualFlow
{
    private const int MinutesThatTeach = 60;
    private const int LeastMinutes = 5;
    private const double BeamGapSeconds = 30;

    private double[] _minutes = [];
    private double _sum;
    private int _count;
    private Instant? _minute;
    private double? _usual;

    /// <summary>L/min; null until it is learned.</summary>
    public double? LitresPerMinute => _usual;

    /// <summary>The beam is on, or was until so short a time ago.</summary>
    public static bool IsNeeded(Reading reading) =>
        reading.BeamOn == true || (reading.BeamLastOn is { } last && reading.TimeOf(CanonicalIndex.CoolantFlow).SecondsSince(last) <= BeamGapSeconds)
        || (reading.BeamOn is null && reading.Run is not null);

    public void Follow(Reading reading)
    {
        if (_minutes.Length >= MinutesThatTeach || !reading.Has(CanonicalIndex.CoolantFlow) || !reading.IsFresh(CanonicalIndex.CoolantFlow) || !IsNeeded(reading))
            return;
        var at = reading.TimeOf(CanonicalIndex.CoolantFlow);
        _minute ??= at;
        if (at.SecondsSince(_minute.Value) >= 60)
        {
            if (_count > 0)
                _minutes = [.. _minutes, _sum / _count];
            (_sum, _count, _minute) = (0, 0, at);
            if (_minutes.Length >= LeastMinutes)
                _usual = _minutes.Order().ElementAt(_minutes.Length / 2);
        }

        _sum += reading[CanonicalIndex.CoolantFlow];
        _count++;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _minutes);
        state.Walk(ref _sum);
        state.Walk(ref _count);
        state.Walk(ref _minute);
        state.Walk(ref _usual);
    }
}
