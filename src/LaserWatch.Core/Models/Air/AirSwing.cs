using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>The sawtooth of a compressor that runs between two tank pressures, as far as the regulator lets it through: its height and its pace.</summary>
/// <remarks>
/// Found by the turning points of the pressure, a turn being a return by <see cref="LeastTurnFraction"/> of the recorded pressure
/// from the extreme. Belongs to the machine, not to a job: the regulator lets the same kilopascals through at any setting.
/// </remarks>
internal sealed class AirSwing
{
    private const double LeastTurnFraction = 0.015;

    /// <summary>What moves further than this part of the recorded pressure is a fault or a hand, not a compressor.</summary>
    private const double MostFraction = 0.15;
    private const double Weight = 0.25;
    private const int TurnsThatTeach = 6;
    private const double LongestGapSeconds = 30;
    private const double LongestHalfPeriodSeconds = 1800;

    private double _recorded;
    private Instant _at;
    private bool _following;
    private bool _rising;
    private double _extreme;
    private Instant _extremeAt;
    private bool _turned;
    private double _turnValue;
    private Instant _turnAt;
    private double _height;
    private double _halfPeriod;
    private int _turns;

    /// <summary>Half of the way from trough to crest, kPa; 0 until enough turns have been seen.</summary>
    public double Amplitude => IsKnown ? _height / 2 : 0;

    /// <summary>From trough to crest or back, in seconds, whichever takes longer on the average; 0 until known.</summary>
    public double HalfPeriodSeconds => IsKnown ? _halfPeriod : 0;

    public bool IsKnown => _turns >= TurnsThatTeach;

    /// <summary>Takes a steady pressure at a job, both in kPa.</summary>
    public void Take(double pressure, Instant at, double recorded)
    {
        var gap = !_following || recorded != _recorded || at.SecondsSince(_at) > LongestGapSeconds;
        _at = at;
        if (gap)
        {
            (_following, _recorded, _extreme, _extremeAt, _rising, _turned) = (true, recorded, pressure, at, true, false);
            return;
        }

        if (_rising ? pressure >= _extreme : pressure <= _extreme)
        {
            _extreme = pressure;
            _extremeAt = at;
            return;
        }

        if (Math.Abs(pressure - _extreme) < LeastTurnFraction * recorded)
            return;
        if (_turned)
            Learn(Math.Abs(_extreme - _turnValue), _extremeAt.SecondsSince(_turnAt), recorded);
        (_turned, _turnValue, _turnAt) = (true, _extreme, _extremeAt);
        (_extreme, _extremeAt, _rising) = (pressure, at, !_rising);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _recorded);
        state.Walk(ref _at);
        state.Walk(ref _following);
        state.Walk(ref _rising);
        state.Walk(ref _extreme);
        state.Walk(ref _extremeAt);
        state.Walk(ref _turned);
        state.Walk(ref _turnValue);
        state.Walk(ref _turnAt);
        state.Walk(ref _height);
        state.Walk(ref _halfPeriod);
        state.Walk(ref _turns);
    }

    private void Learn(double height, double seconds, double recorded)
    {
        if (height > 2 * MostFraction * recorded || seconds > LongestHalfPeriodSeconds)
            return;
        _height += (_turns == 0 ? 1 : Weight) * (height - _height);
        _halfPeriod += (_turns == 0 ? 1 : Weight) * (seconds - _halfPeriod);
        _turns = Math.Min(_turns + 1, TurnsThatTeach);
    }
}
