using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>On-delay and off-delay of a condition, as ISA-18.2 means them: it must be so for a while before it is said.</summary>
/// <remarks>A field of its rule, never read-only: it would be changed in a copy.</remarks>
internal struct DelayedSwitch
{
    private Instant? _badSince;
    private Instant? _goodSince;
    private bool _on;

    public readonly bool IsOn => _on;

    /// <summary>Since when the values have been bad without a break; null where they are not.</summary>
    public readonly Instant? BadSince => _badSince;

    /// <param name="bad">Past the limit.</param>
    /// <param name="good">Back past the deadband too; between the two nothing changes.</param>
    /// <param name="at">The sample's time.</param>
    /// <param name="onDelaySeconds">How long bad before on.</param>
    /// <param name="offDelaySeconds">How long good before off.</param>
    public bool Update(bool bad, bool good, Instant at, double onDelaySeconds, double offDelaySeconds)
    {
        if (bad)
        {
            _goodSince = null;
            // One sample is a glitch: a second must agree, however far apart they come.
            if (_badSince is null)
                _badSince = at;
            else if (at.SecondsSince(_badSince.Value) >= onDelaySeconds)
                _on = true;
        }
        else
        {
            _badSince = null;
            if (!good)
                _goodSince = null;
            else
                _goodSince ??= at;
            if (_on && _goodSince is { } since && at.SecondsSince(since) >= offDelaySeconds)
                _on = false;
        }

        return _on;
    }

    public void Reset() => (_badSince, _goodSince, _on) = (null, null, false);

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _badSince);
        state.Walk(ref _goodSince);
        state.Walk(ref _on);
    }
}
