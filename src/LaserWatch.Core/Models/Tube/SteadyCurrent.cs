using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>A tube current that has proved steady at a fixed power.</summary>
internal readonly record struct SteadySample(Instant At, double PowerPercent, double Milliamps);

/// <summary>Picks out of the samples, in time order, the tube currents that say something: beam on and steady at a fixed power.</summary>
/// <remarks>
/// A current counts when beam and power have been unchanged for the settling time before it, and were seen unchanged once more
/// after it: so neither the edge of a cut nor a sample that straddles it passes. Raster runs are left out whole, since the sensor
/// then shows the duty of the picture, not the tube; and where the shop keeps job records, so are runs without one, which may be
/// raster.
/// <para>
/// Where all channels are sampled together and seldom, the edges of a cut are not seen: then a current counts when the beam was on at
/// its own instant, and the few that straddle an edge are left to the block's robust estimate.
/// </para>
/// </remarks>
internal sealed class SteadyCurrent(TubeCurrentOptions options, double beamOnMilliamps, JobBook jobs)
{
    /// <summary>Longer between two looks at the beam, in seconds, and a whole cut may lie in between.</summary>
    private const double SeldomSeconds = 5;

    private double? _lasing;
    private Instant _lasingAt;
    private Instant? _seldomOnAt;
    private Instant? _lasingOnSince;
    private Instant? _currentOnSince;
    private Instant _clock;
    private double? _power;
    private Instant? _powerSince;
    private bool _pending;
    private Instant _pendingAt;
    private double _pendingCurrent;
    private double _pendingPower;
    private Run? _run;

    /// <summary>Beam-on time seen, in seconds.</summary>
    public double BeamSeconds { get; private set; }

    /// <summary>The run the samples belong to.</summary>
    public Run? Run => _run;

    /// <summary>A new run, or none: nothing that was pending passes over the border.</summary>
    public void Begin(Run? run)
    {
        if (run?.Number == _run?.Number)
        {
            _run = run;
            return;
        }

        _run = run;
        _pending = false;
    }

    /// <summary>A sample of this instant, of whatever channel, is next in time order.</summary>
    public void PassTime(Instant at)
    {
        if ((_lasing is null ? _currentOnSince : _lasingOnSince) is not null && at.SecondsSince(_clock) is > 0 and <= 60 and var seconds)
            BeamSeconds += seconds;
        _clock = at;
    }

    /// <summary>Takes whether the beam is on. True where an earlier current has now proved steady.</summary>
    public bool TryTakeLasing(Instant at, double value, out SteadySample proved)
    {
        proved = new(_pendingAt, _pendingPower, _pendingCurrent);
        var on = value >= 0.5;
        var seldom = _lasing is not null && at.SecondsSince(_lasingAt) >= SeldomSeconds;
        // A later sign that the beam is still on proves the pending current; so does an end so late that it says nothing of then.
        var says = on ? _lasing >= 0.5 : seldom && _pendingAt == _lasingAt;
        var stands = says && Release(at);
        if (on && (_lasing is null or < 0.5))
        {
            _lasingOnSince = at;
            _seldomOnAt = seldom ? at : null;
            _pending = false;
        }
        else if (!on)
        {
            _lasingOnSince = null;
            _pending = false;
        }

        _lasing = value;
        _lasingAt = at;
        return stands;
    }

    public void TakePower(Instant at, double percent)
    {
        if (_power is { } power && !(Math.Abs(percent - power) > 0.5))
            return;
        _power = percent;
        _powerSince = at;
        _pending = false;
    }

    /// <summary>Takes a tube current. True where an earlier one has now proved steady.</summary>
    public bool TryTakeCurrent(Instant at, double milliamps, out SteadySample proved)
    {
        proved = new(_pendingAt, _pendingPower, _pendingCurrent);
        var stands = Release(at);
        if (_lasing is null)
            FollowBeamByCurrent(at, milliamps);
        var power = _power ?? _run?.Record?.Power?.Value;
        var beamSince = _lasing is null ? _currentOnSince : _lasingOnSince;
        var usable = power >= options.LeastPowerPercent
            && beamSince is { } since && (at.SecondsSince(since) >= options.SettleSeconds || at == _seldomOnAt)
            && (_powerSince is null || at.SecondsSince(_powerSince.Value) >= options.SettleSeconds)
            && IsJudged(_run)
            && milliamps > beamOnMilliamps;
        if (_pending && !stands)
            _pending = false;
        if (usable)
        {
            _pending = true;
            (_pendingAt, _pendingCurrent, _pendingPower) = (at, milliamps, power!.Value);
        }

        return stands;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _lasing);
        state.Walk(ref _lasingOnSince);
        state.Walk(ref _lasingAt);
        state.Walk(ref _seldomOnAt);
        state.Walk(ref _clock);
        state.Walk(ref _power);
        state.Walk(ref _powerSince);
        state.Walk(ref _currentOnSince);
        state.Walk(ref _pending);
        state.Walk(ref _pendingAt);
        state.Walk(ref _pendingCurrent);
        state.Walk(ref _pendingPower);
        RunTracker.VisitRun(state, ref _run, jobs);
        var seconds = BeamSeconds;
        state.Walk(ref seconds);
        BeamSeconds = seconds;
    }

    private bool IsJudged(Run? run) => run is not null && (run.IsVector || (run.Record is null && jobs.Count == 0));

    private void FollowBeamByCurrent(Instant at, double value)
    {
        if (value > beamOnMilliamps)
        {
            _currentOnSince ??= at;
        }
        else
        {
            _currentOnSince = null;
            _pending = false;
        }
    }

    private bool Release(Instant now)
    {
        if (!_pending || now <= _pendingAt)
            return false;
        _pending = false;
        return true;
    }
}
