using System.Runtime.InteropServices;

namespace LaserWatch.Reports;

/// <summary>One UTC day of a machine's use.</summary>
/// <param name="HeardSeconds">Time in which at least one channel was known.</param>
public readonly record struct DayUse(DateOnly Day, double HeardSeconds, double BeamSeconds);

/// <summary>Adds up time heard, in runs and with the beam on.</summary>
internal sealed class BeamUse
{
    /// <summary>Bands of ten points of commanded power each; the last one holds 100 % too, and what is above it.</summary>
    public const int Bands = 10;

    private readonly long[] _bands = new long[Bands];
    private readonly List<(DateOnly Day, long Heard, long Beam)> _days = [];
    private long _dayEnd = long.MinValue;

    public long Beam { get; private set; }

    public long Run { get; private set; }

    public long BeamInRun { get; private set; }

    public long Heard { get; private set; }

    /// <summary>Time with the beam on and no power known.</summary>
    public long BeamOfUnknownPower { get; private set; }

    public IReadOnlyList<double> BandSeconds => [.. _bands.Select(band => band / 1e9)];

    public IReadOnlyList<DayUse> Days => [.. _days.Select(day => new DayUse(day.Day, day.Heard / 1e9, day.Beam / 1e9))];

    /// <summary>Takes a piece of time that lies within one UTC day and within which something is known.</summary>
    public void Add(long from, long to, bool beamOn, bool inRun, double? power)
    {
        var length = to - from;
        if (from >= _dayEnd)
        {
            _dayEnd = DayRanges.EndOfDay(from);
            _days.Add((DayRanges.DayOf(from), 0, 0));
        }

        ref var day = ref CollectionsMarshal.AsSpan(_days)[^1];
        day.Heard += length;
        if (beamOn)
            day.Beam += length;
        Heard += length;
        if (inRun)
            Run += length;
        if (!beamOn)
            return;
        Beam += length;
        if (inRun)
            BeamInRun += length;
        if (power is { } percent)
            _bands[Math.Clamp((int)(percent / 10), 0, Bands - 1)] += length;
        else
            BeamOfUnknownPower += length;
    }
}
