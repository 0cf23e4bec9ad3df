using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Finds an alarm that comes and goes faster than anybody can act on it.</summary>
internal sealed class ChatterWatch(AlarmOptions options)
{
    private readonly List<Annunciation> _newest = [];
    private bool _chatters;

    /// <summary>Since it was found, and until the alarm has returned for good.</summary>
    public bool Chatters => _chatters;

    /// <summary>The alarm was told again. True where that makes it chattering.</summary>
    public bool Annunciated(Instant at)
    {
        if (_newest.Count >= options.ChatterTimes)
            _newest.RemoveAt(0);
        _newest.Add(new Annunciation { At = at });
        if (_chatters || _newest.Count < options.ChatterTimes || at.SecondsSince(_newest[0].At) > options.ChatterSeconds)
            return false;
        _chatters = true;
        return true;
    }

    public void Returned()
    {
        if (_chatters)
            _newest.Clear();
        _chatters = false;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _chatters);
        state.Walk(_newest, () => new Annunciation(), one => state.Walk(ref one.At));
    }

    private sealed class Annunciation
    {
        public Instant At;
    }
}
