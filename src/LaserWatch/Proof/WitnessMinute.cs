using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>Picks the minute of a day that shall stand for it: of those at the day's commonest power, the one whose mean current is the middle one.</summary>
internal sealed class WitnessMinute
{
    /// <summary>Currents with the beam on that make a minute worth showing.</summary>
    private const int LeastCurrents = 8;

    private readonly Dictionary<(long Minute, double Power), (int Count, double Sum)> _minutes = [];
    private double? _power;
    private bool _beam;
    private long? _first;

    /// <summary>Takes the day's samples in time order.</summary>
    public void Take(in Sample sample)
    {
        var minute = TimeGrid.MinuteOf(sample.At);
        _first ??= minute;
        if (sample.Channel == Channel.Power)
            _power = sample.Value;
        else if (sample.Channel == Channel.Lasing)
            _beam = sample.Value >= 0.5;
        else if (sample.Channel == Channel.TubeCurrent && _beam && _power is { } power)
            Add((minute, power), sample.Value);
    }

    /// <summary>In minutes since 1970; null where the day has no sample.</summary>
    public long? Pick()
    {
        var worthy = _minutes.Where(entry => entry.Value.Count >= LeastCurrents).ToList();
        var commonest = worthy.GroupBy(entry => entry.Key.Power).OrderByDescending(group => group.Count()).ThenByDescending(group => group.Key).FirstOrDefault();
        if (commonest is null)
            return _first;
        var byMean = commonest.OrderBy(entry => entry.Value.Sum / entry.Value.Count).ThenBy(entry => entry.Key.Minute).ToList();
        return byMean[byMean.Count / 2].Key.Minute;
    }

    private void Add((long Minute, double Power) key, double current)
    {
        var (count, sum) = _minutes.GetValueOrDefault(key);
        _minutes[key] = (count + 1, sum + current);
    }
}
