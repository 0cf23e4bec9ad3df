using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>A stretch of time outside a limit.</summary>
/// <param name="Seconds">Time outside; short interruptions within are not counted in.</param>
public readonly record struct Spell(Instant Begin, double Seconds);

/// <summary>How long a limit was judged, and kept or not.</summary>
/// <param name="KnownSeconds">Time in which the quantity was known; the rest is neither inside nor outside.</param>
/// <param name="Longest">The longest spell outside; null where there was none.</param>
/// <param name="Spells">How many there were.</param>
/// <param name="Worst">The value nearest to its limit or farthest beyond it, in the limit's unit; null where nothing was known.</param>
/// <param name="WorstLimit">The limit at that moment.</param>
public readonly record struct LimitTime(
    double KnownSeconds, double OutsideSeconds, Spell? Longest, int Spells, double? Worst, double? WorstLimit, Instant? WorstAt)
{
    /// <summary>Of the known time, the part outside; null where nothing was known.</summary>
    public double? ShareOutside => KnownSeconds > 0 ? OutsideSeconds / KnownSeconds : null;
}

/// <summary>Adds up time inside and outside one limit, piece by piece in time order.</summary>
internal sealed class LimitMeter
{
    /// <summary>Time of which nothing is known, up to this, does not end a spell: the beam goes off between two cuts.</summary>
    public const long Bridge = 60_000_000_000;

    private long _known;
    private long _outside;
    private long _spell;
    private long _spellBegin;
    private long _spellEnd;
    private long _longest;
    private long _longestBegin;
    private int _spells;
    private double _worstExcess = double.NegativeInfinity;
    private double _worst;
    private double _worstLimit;
    private long _worstAt;

    /// <param name="excess">By how much the value is past the limit, in its unit; above 0 is outside.</param>
    public void Add(long from, long to, double value, double limit, double excess)
    {
        _known += to - from;
        if (excess > _worstExcess)
            (_worstExcess, _worst, _worstLimit, _worstAt) = (excess, value, limit, from);
        if (!(excess > 0))
        {
            _spell = 0;
            return;
        }

        if (_spell == 0 || from - _spellEnd > Bridge)
        {
            _spell = 0;
            _spellBegin = from;
            _spells++;
        }

        _outside += to - from;
        _spell += to - from;
        _spellEnd = to;
        if (_spell > _longest)
            (_longest, _longestBegin) = (_spell, _spellBegin);
    }

    public LimitTime Read() => new(
        _known / 1e9, _outside / 1e9, _longest > 0 ? new Spell(new Instant(_longestBegin), _longest / 1e9) : null, _spells,
        _known > 0 ? _worst : null, _known > 0 ? _worstLimit : null, _known > 0 ? new Instant(_worstAt) : null);
}
