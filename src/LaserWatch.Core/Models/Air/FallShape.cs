using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>How a trouble with the air began. <c>default</c> is "cannot tell".</summary>
public enum AirOnset
{
    Unknown,

    /// <summary>It was there when the run, or the stretch after a pause, began.</summary>
    BetweenRuns,

    /// <summary>From good to bad within three seconds, while cutting.</summary>
    Sudden,

    /// <summary>Over seconds to minutes, while cutting.</summary>
    Gradual,

    /// <summary>Over many runs.</summary>
    Creeping,
}

/// <summary>Remembers how a pressure came down: at once, over a while, or already before the run.</summary>
internal sealed class FallShape
{
    private const double SuddenSeconds = 3;
    private const double LongestStepSeconds = 5;

    private bool _wasGood;
    private Instant _lastGood;
    private Instant? _firstLow;
    private Instant _before;
    private double _lastStep;

    /// <summary>How long it took from the last good pressure to the first below the limit, in seconds; null where it was not seen.</summary>
    public double? FallSeconds => _wasGood && _firstLow is { } low ? low.SecondsSince(_lastGood) : null;

    /// <summary>The first pressure below the limit; null where it is not below.</summary>
    public Instant? LowSince => _firstLow;

    public AirOnset Onset => !_wasGood ? AirOnset.BetweenRuns
        : FallSeconds is not { } seconds ? AirOnset.Unknown
        : seconds <= Math.Max(SuddenSeconds, 1.5 * Math.Min(_lastStep, LongestStepSeconds)) ? AirOnset.Sudden
        : seconds <= 1.5 * _lastStep ? AirOnset.Unknown
        : AirOnset.Gradual;

    /// <summary>A new run, or the beam is back after a pause: what was good before it says nothing.</summary>
    public void Begin()
    {
        _wasGood = false;
        _firstLow = null;
    }

    /// <param name="good">The pressure is where it should be, give or take its own scatter.</param>
    /// <param name="low">The pressure is below the limit.</param>
    /// <param name="at">The pressure's time.</param>
    public void Take(bool good, bool low, Instant at)
    {
        if (good)
        {
            _wasGood = true;
            _lastGood = at;
        }
        else if (low && _firstLow is null)
        {
            _firstLow = at;
            _lastStep = at.SecondsSince(_before);
        }

        if (!low)
            _firstLow = null;
        _before = at;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _wasGood);
        state.Walk(ref _lastGood);
        state.Walk(ref _firstLow);
        state.Walk(ref _before);
        state.Walk(ref _lastStep);
    }
}
