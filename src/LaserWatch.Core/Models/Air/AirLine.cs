using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Knows in which phase of a run the air is: not needed, rising, or expected to be there.</summary>
/// <remarks>
/// Air is judged only while it matters: in a run whose pressure was recorded, with the beam on or just now on. A valve that
/// opens with the beam, or a pump that starts with the run, is given time to rise; a pressure that has stopped rising short of
/// the limit is not waited for.
/// </remarks>
internal sealed class AirLine(AirPressureOptions options)
{
    /// <summary>Gaps of the beam up to this long, in seconds, are part of the cutting.</summary>
    private const double PauseSeconds = 5;

    /// <summary>In an engraving the beam flickers with the picture: a pale part of it is no pause.</summary>
    private const double RasterPauseSeconds = 30;
    private const double FlatForSeconds = 2;

    /// <summary>After a gap with the valve shut, the line fills for so long, in seconds.</summary>
    private const double FillSeconds = 2;
    private const double ShutFraction = 0.5;
    private const double FlatFraction = 0.03;

    private int _run;
    private bool _cutting;
    private Instant _risingSince;
    private Instant _judgedAt;
    private Instant _flatSince;
    private double _flatValue;
    private double _last1;
    private double _last2;
    private int _samples;
    private bool _nothingTaken;
    private bool _shutInGap;
    private bool _goodInCut;

    /// <summary>The pressure recorded for the job, kPa; null where there is none to judge by.</summary>
    public double? Recorded { get; private set; }

    /// <summary>Below this the pressure is too low for the job, kPa.</summary>
    public double Limit { get; private set; }

    /// <summary>Below this air assist is lost, kPa; null where nothing says so.</summary>
    public double? LostBelow { get; private set; }

    /// <summary>Air matters: the beam is on, or this is a short gap between cuts.</summary>
    public bool IsCutting => _cutting;

    /// <summary>The pressure counts at this moment: the beam is on, and the line is not just filling behind a valve that had shut.</summary>
    public bool IsJudged { get; private set; }

    /// <summary>Air is being waited for: just begun, or the beam is back after a pause.</summary>
    public bool IsRising { get; private set; }

    /// <summary>The line fills behind a valve that was shut between cuts.</summary>
    public bool IsFilling { get; private set; }

    /// <summary>How long the rise has been waited for, in seconds.</summary>
    public double RisingSeconds { get; private set; }

    /// <summary>The middle of the last three pressures, kPa: one wild sample does not move it.</summary>
    public double Median { get; private set; }

    /// <summary>Time since the sample before, in seconds, cut to 10.</summary>
    public double StepSeconds { get; private set; }

    /// <summary>How long this stretch of cutting has lasted at the newest pressure, in seconds: since the run or a pause.</summary>
    public double StretchSeconds { get; private set; }

    /// <summary>Takes the reading's pressure where it is fresh, and a new run or record in any case; call it before the rules.</summary>
    public void Follow(Reading reading)
    {
        var run = reading.Run;
        if (run is null || !reading.Has(CanonicalIndex.AirPressure))
        {
            _cutting = false;
            IsJudged = false;
            _run = 0;
            Recorded = null;
            LostBelow = null;
            return;
        }

        Recorded = run.Record?.AirPressure is { Value: > 0 } recorded ? recorded.Value : null;
        var tolerance = run.Record?.AirPressureTolerance ?? options.Tolerance;
        Limit = (Recorded ?? 0) * (1 - tolerance);
        LostBelow = Recorded is null ? options.LostFloorKilopascals
            : Math.Max(Recorded.Value * options.LostFraction, options.LostFloorKilopascals ?? 0);

        if (run.Number != _run)
        {
            _run = run.Number;
            _samples = 0;
            _nothingTaken = true;
            _cutting = false;
            _goodInCut = false;
            _shutInGap = false;
            IsFilling = false;
            IsJudged = false;
        }

        // A new run or a new record is no new pressure: the old one must not count twice.
        if (!reading.IsFresh(CanonicalIndex.AirPressure))
            return;
        var begun = _nothingTaken;
        _nothingTaken = false;
        var pressure = reading[CanonicalIndex.AirPressure];
        var at = reading.TimeOf(CanonicalIndex.AirPressure);
        StepSeconds = _samples == 0 ? 0 : Math.Min(at.SecondsSince(_judgedAt), 10);
        _judgedAt = at;

        var cutting = reading.BeamOn switch
        {
            null => true,
            true => true,
            false => reading.BeamLastOn is { } lastOn && lastOn >= run.Since && at.SecondsSince(lastOn) <= (run.IsRaster ? RasterPauseSeconds : PauseSeconds),
        };
        if (cutting && !_cutting)
        {
            IsRising = true;
            _risingSince = begun || reading.BeamOn is null ? Later(run.Since, reading.BeamOn is null ? run.Since : reading.BeamSince) : at;
            _flatSince = at;
            _flatValue = pressure;
            _samples = 0;
        }

        _cutting = cutting;
        StretchSeconds = cutting ? at.SecondsSince(_risingSince) : 0;
        if (reading.BeamOn == false)
        {
            // Many machines shut the air between cuts: what the pressure does there is nobody's fault.
            // But a line that was not good in the cut before was not shut by a valve.
            _shutInGap |= _goodInCut && pressure < ShutFraction * Limit;
            IsJudged = false;
            return;
        }

        IsFilling = _shutInGap && reading.BeamOn is not null && at.SecondsSince(reading.BeamSince) < FillSeconds;
        if (_shutInGap)
            _goodInCut = false;
        _shutInGap &= IsFilling;
        _goodInCut |= pressure >= Limit;
        Median = _samples switch { 0 => pressure, 1 => Math.Max(pressure, _last1), _ => Middle(pressure, _last1, _last2) };
        _last2 = _last1;
        _last1 = pressure;
        _samples++;

        IsJudged = !IsFilling && !IsRising;
        if (!IsRising)
            return;
        RisingSeconds = at.SecondsSince(_risingSince);
        if (Recorded is not { } goal)
        {
            IsRising = RisingSeconds < options.StartUpSeconds;
            return;
        }

        if (Math.Abs(pressure - _flatValue) > FlatFraction * goal)
        {
            _flatSince = at;
            _flatValue = pressure;
        }

        var flat = RisingSeconds >= 4 && at.SecondsSince(_flatSince) >= FlatForSeconds;
        IsRising = pressure < Limit && !flat && RisingSeconds < options.StartUpSeconds;
        IsJudged = !IsFilling && !IsRising;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _run);
        state.Walk(ref _cutting);
        state.Walk(ref _risingSince);
        state.Walk(ref _judgedAt);
        state.Walk(ref _flatSince);
        state.Walk(ref _flatValue);
        state.Walk(ref _last1);
        state.Walk(ref _last2);
        state.Walk(ref _samples);
        state.Walk(ref _nothingTaken);
        state.Walk(ref _shutInGap);
        state.Walk(ref _goodInCut);
        var (judged, filling) = (IsJudged, IsFilling);
        state.Walk(ref judged);
        state.Walk(ref filling);
        (IsJudged, IsFilling) = (judged, filling);
        var (recorded, limit, lost, rising, seconds, median, step, stretch) =
            (Recorded, Limit, LostBelow, IsRising, RisingSeconds, Median, StepSeconds, StretchSeconds);
        state.Walk(ref recorded);
        state.Walk(ref limit);
        state.Walk(ref lost);
        state.Walk(ref rising);
        state.Walk(ref seconds);
        state.Walk(ref median);
        state.Walk(ref step);
        state.Walk(ref stretch);
        (Recorded, Limit, LostBelow, IsRising, RisingSeconds, Median, StepSeconds, StretchSeconds) =
            (recorded, limit, lost, rising, seconds, median, step, stretch);
    }

    private static Instant Later(Instant a, Instant b) => a > b ? a : b;

    private static double Middle(double a, double b, double c) => Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));
}
