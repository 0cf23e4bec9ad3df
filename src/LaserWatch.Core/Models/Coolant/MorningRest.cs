using LaserWatch.Monitoring;

namespace LaserWatch.Models;

/// <summary>How far the coolant stands from the room after a night without the beam, in kelvins: a sensor that reads wrong does so then too.</summary>
internal sealed class MorningRest
{
    private const int Enough = 3;
    private const double GreatestSpread = 1;

    private double _sum, _squares, _latest;
    private int _count;
    private int _since;

    public void Take(double aboveRoom, bool drifting)
    {
        if (drifting)
        {
            _since++;
            _latest += (aboveRoom - _latest) / _since;
            return;
        }

        (_latest, _since) = (0, 0);
        _sum += aboveRoom;
        _squares += aboveRoom * aboveRoom;
        _count++;
    }

    /// <summary>
    /// How far the mornings since the drift began stand from those before; null where there was none since, or where
    /// mornings say nothing (a chiller that runs all night).
    /// </summary>
    public double? Moved
    {
        get
        {
            if (_since == 0 || _count < Enough)
                return null;
            var mean = _sum / _count;
            var spread = Math.Sqrt(Math.Max(0, (_squares / _count) - (mean * mean)));
            return spread <= GreatestSpread ? _latest - mean : null;
        }
    }

    public void Clear() => (_sum, _squares, _latest, _count, _since) = (0, 0, 0, 0, 0);

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _sum);
        state.Walk(ref _squares);
        state.Walk(ref _latest);
        state.Walk(ref _count);
        state.Walk(ref _since);
    }
}
