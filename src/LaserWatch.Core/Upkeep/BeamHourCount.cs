using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

/// <summary>Hours of beam, counted by the watch itself and by the machine's hour meter where there is one.</summary>
/// <remarks>
/// The watch misses what happens while it is off, and has nothing to count by where neither <c>lasing</c> nor current is wired; a meter
/// can stick. Each can only count too little, so of the two counts between the same two moments the greater holds. The meter may begin at
/// any value and may be set back: only its increments are used, and no more of them than time has passed.
/// One mark a day is kept, so that work entered into the log days later finds its place.
/// </remarks>
internal sealed class BeamHourCount
{
    private const int MostMarks = 400;
    private const int MarksAtFirst = 8;
    private const long NanosecondsPerDay = 86_400_000_000_000;
    private const double LongestHoldSeconds = 120;

    // A meter that shows whole hours moves by a whole one at once.
    private const double MeterStepHours = 1.1;

    // Below this a smaller reading is a flicker of the last digit, not a meter set back.
    private const double MeterFlickerHours = 0.5;

    private double _own;
    private double _metered;
    private double? _meter;
    private Instant? _meterAt;
    private Instant? _at;
    private bool _on;
    private double[] _markDays = new double[MarksAtFirst];
    private double[] _markOwn = new double[MarksAtFirst];
    private double[] _markMetered = new double[MarksAtFirst];
    private int _marks;
    private long _dayFrom;
    private long _dayTo;

    /// <summary>What both counts stood at, at one moment; hours.</summary>
    public readonly record struct Stand(double Own, double Metered);

    public Stand Now => new(_own, _metered);

    /// <summary>When counting began; null before the first sample.</summary>
    public Instant? Began { get; private set; }

    /// <summary>What the hour meter shows; null where none was heard.</summary>
    public double? Meter => _meter;

    /// <summary>Hours of beam since a former stand.</summary>
    public double Since(Stand then) => Math.Max(_own - then.Own, _metered - then.Metered);

    /// <summary>The beam is as told from <paramref name="at"/> on, until told otherwise. Older than the last call: ignored.</summary>
    public void Follow(Instant at, bool on)
    {
        Began ??= at;
        if (_at is { } last)
        {
            if (at < last)
                return;
            if (_on)
                _own += Math.Min(at.SecondsSince(last), LongestHoldSeconds) / 3600;
        }

        if (at.UnixNanoseconds < _dayFrom || at.UnixNanoseconds >= _dayTo || _at is null)
        {
            if (_at is not { } before || Day(before) != Day(at))
                Mark(at);
            // Until this day is over nothing need be divided; days before 1970 are not worth it.
            var day = Day(at);
            (_dayFrom, _dayTo) = day <= 0 ? (0, 0) : (day * NanosecondsPerDay, (day + 1) * NanosecondsPerDay);
        }

        (_at, _on) = (at, on);
    }

    public void ReadMeter(Instant at, double hours)
    {
        if (_meter is not { } last || _meterAt is not { } lastAt)
        {
            (_meter, _meterAt) = (hours, at);
            return;
        }

        var step = hours - last;
        if (at < lastAt || (step < 0 && step > -MeterFlickerHours))
            return;
        if (step >= 0 && step <= (at.SecondsSince(lastAt) / 3600) + MeterStepHours)
            _metered += step;
        (_meter, _meterAt) = (hours, at);
    }

    /// <summary>The stand at a moment in the past, by the day; the present one for what is not past.</summary>
    public Stand At(Instant moment)
    {
        if (_at is not { } now || moment >= now || _marks == 0)
            return Now;
        var day = moment.UnixNanoseconds / (double)NanosecondsPerDay;
        var next = 0;
        while (next < _marks && _markDays[next] <= day)
            next++;
        if (next == 0)
            return new(_markOwn[0], _markMetered[0]);
        var (toDay, to) = next < _marks
            ? (_markDays[next], new Stand(_markOwn[next], _markMetered[next]))
            : (now.UnixNanoseconds / (double)NanosecondsPerDay, Now);
        var from = new Stand(_markOwn[next - 1], _markMetered[next - 1]);
        var part = toDay > _markDays[next - 1] ? (day - _markDays[next - 1]) / (toDay - _markDays[next - 1]) : 1;
        return new(from.Own + (part * (to.Own - from.Own)), from.Metered + (part * (to.Metered - from.Metered)));
    }

    public void Visit(StateVisitor state)
    {
        var began = Began;
        state.Walk(ref began);
        Began = began;
        (_dayFrom, _dayTo) = (0, 0);
        state.Walk(ref _own);
        state.Walk(ref _metered);
        state.Walk(ref _meter);
        state.Walk(ref _meterAt);
        state.Walk(ref _at);
        state.Walk(ref _on);
        state.Walk(ref _marks);
        state.Walk(ref _markDays);
        state.Walk(ref _markOwn);
        state.Walk(ref _markMetered);
        if (_marks < 0 || _marks > _markDays.Length || _markDays.Length is 0 or > MostMarks || _markOwn.Length != _markDays.Length || _markMetered.Length != _markDays.Length)
            StateVisitor.Refuse();
    }

    private static long Day(Instant at) => Math.DivRem(at.UnixNanoseconds, NanosecondsPerDay, out _);

    private void Mark(Instant at)
    {
        if (_marks == MostMarks)
        {
            // Every second one goes, so that the oldest work is still found, only more roughly.
            for (var i = 0; i < MostMarks / 2; i++)
                (_markDays[i], _markOwn[i], _markMetered[i]) = (_markDays[2 * i], _markOwn[2 * i], _markMetered[2 * i]);
            _marks = MostMarks / 2;
        }

        if (_marks == _markDays.Length)
        {
            var size = Math.Min(2 * _marks, MostMarks);
            Array.Resize(ref _markDays, size);
            Array.Resize(ref _markOwn, size);
            Array.Resize(ref _markMetered, size);
        }

        (_markDays[_marks], _markOwn[_marks], _markMetered[_marks]) = (at.UnixNanoseconds / (double)NanosecondsPerDay, _own, _metered);
        _marks++;
    }
}
