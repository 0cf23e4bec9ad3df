using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>What the current sensor reads while no beam is on: its zero, at first and lately.</summary>
/// <remarks>A zero that moves with the fall tells of the sensor, not of the tube. Needs the <c>lasing</c> channel.</remarks>
internal sealed class RestCurrent
{
    private const double SettleSeconds = 5;
    private const int LearnSamples = 300;
    private const int LeastRecent = 30;
    private const double Memory = 60;

    private bool _on = true;
    private Instant? _offSince;
    private double _learned;
    private double _first;
    private double _firstSquares;
    private double _recent;
    private double _recentCount;

    /// <summary>How far the zero has moved, mA, and its standard error; null before both ends are known.</summary>
    public (double Milliamps, double Error)? Shift
    {
        get
        {
            if (_learned < LearnSamples || _recentCount < LeastRecent)
                return null;
            var spread = Math.Sqrt(Math.Max(_firstSquares / (_learned - 1), 1e-6));
            return (_recent - _first, 3 * spread / Math.Sqrt(Math.Min(_recentCount, Memory)));
        }
    }

    public void FollowBeam(bool on, Instant at)
    {
        if (on == _on)
            return;
        _on = on;
        _offSince = on ? null : at;
    }

    public void Take(double milliamps, Instant at)
    {
        if (_on || _offSince is not { } since || at.SecondsSince(since) < SettleSeconds)
            return;
        if (_learned < LearnSamples)
        {
            _learned++;
            var step = milliamps - _first;
            _first += step / _learned;
            _firstSquares += step * (milliamps - _first);
            return;
        }

        _recentCount++;
        _recent += (milliamps - _recent) / Math.Min(_recentCount, Memory);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _on);
        state.Walk(ref _offSince);
        state.Walk(ref _learned);
        state.Walk(ref _first);
        state.Walk(ref _firstSquares);
        state.Walk(ref _recent);
        state.Walk(ref _recentCount);
    }
}
