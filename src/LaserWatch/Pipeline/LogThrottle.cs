using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>Lets each key speak once in a while, and says how often it was held back meanwhile.</summary>
/// <remarks>
/// Bounded: when <paramref name="mostKeys"/> are all within their pause, further keys are held back too. Not safe for several
/// threads. A clock that is set back lets a key speak again at once.
/// </remarks>
public sealed class LogThrottle<TKey>(TimeSpan pause, int mostKeys) where TKey : notnull
{
    private readonly Dictionary<TKey, (Instant Spoken, long HeldBack)> _byKey = [];

    // Between these two no key's pause is over: a flood of new keys must not walk through all of them each time.
    private (Instant From, Instant To) _full;

    /// <summary>True where the key may speak now.</summary>
    /// <param name="heldBack">Times it was held back since it last spoke.</param>
    public bool MaySpeak(TKey key, Instant now, out long heldBack)
    {
        heldBack = 0;
        if (_byKey.TryGetValue(key, out var last))
        {
            if (now >= last.Spoken && now - last.Spoken < pause)
            {
                _byKey[key] = last with { HeldBack = last.HeldBack + 1 };
                return false;
            }

            heldBack = last.HeldBack;
        }
        else if (_byKey.Count >= mostKeys && !MakeRoom(now))
        {
            return false;
        }

        _byKey[key] = (now, 0);
        return true;
    }

    private bool MakeRoom(Instant now)
    {
        if (now >= _full.From && now < _full.To)
            return false;
        var first = Instant.MaxValue;
        foreach (var (key, last) in _byKey)
        {
            if (now < last.Spoken || now - last.Spoken >= pause)
                _byKey.Remove(key); // removing while walking is allowed for Dictionary
            else if (last.Spoken < first)
                first = last.Spoken;
        }

        if (_byKey.Count < mostKeys)
            return true;
        _full = (now, first + pause);
        return false;
    }
}
