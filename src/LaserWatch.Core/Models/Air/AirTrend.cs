using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Whether a quantity has moved away from its usual level over runs, and stays away: told once, until it is back.</summary>
/// <remarks>
/// A two-sided CUSUM of the observations' scores, whatever the job, for what happens to a machine's air happens at all its jobs. A
/// change too small to matter is learned instead of told.
/// </remarks>
internal sealed class AirTrend(CusumDesign design, double leastRise, double leastFall)
{
    private const int RunsThatClear = 2;
    private const int OtherRunsThatClear = 5;
    private const int SettingsThatAgree = 3;

    private readonly Cusum _cusum = new(design);
    private Side _up;
    private Side _down;
    private string? _job;
    private int _well;
    private bool _told;
    private int _othersWell;

    /// <summary>1: up, −1: down, 0: as usual.</summary>
    public int Direction { get; private set; }

    /// <summary>How far it has moved from the usual level, in the quantity's unit.</summary>
    public double Shift { get; private set; }

    /// <summary>The usual level it has moved from, in the quantity's unit.</summary>
    public double Usual { get; private set; }

    /// <summary>When it began to move, as far as can be told.</summary>
    public Instant Since { get; private set; }

    public AirOnset Onset { get; private set; }

    /// <summary>The job it was seen at.</summary>
    public string? Job => _job;

    /// <summary>Such a value must not be learned as normal.</summary>
    public bool IsSuspicious => _told || Direction != 0 || _cusum.Upper > design.DecisionInterval / 2 || _cusum.Lower > design.DecisionInterval / 2;

    /// <summary>What would be said if the observation ended here: a setting that is still in use has not been counted.</summary>
    public void Peek(double score, double off, double usual, Instant at, string? job)
    {
        if (Direction != 0 || _told)
            return;
        if (_cusum.Upper + score - design.ReferenceValue > design.DecisionInterval)
            Judge(1, _up.With(off, at), usual, job);
        else if (_cusum.Lower - score - design.ReferenceValue > design.DecisionInterval)
            Judge(-1, _down.With(off, at), usual, job);
    }

    /// <param name="score">Standard normal where nothing has changed.</param>
    /// <param name="off">Off the usual level, in the quantity's unit.</param>
    /// <param name="usual">The usual level itself.</param>
    /// <param name="at">When the observation ended.</param>
    /// <param name="job">The job it was made at.</param>
    public void Take(double score, double off, double usual, Instant at, string? job)
    {
        if (Direction != 0 || _told)
            return;
        var side = _cusum.Update(score);
        _up = _cusum.Upper > 0 ? _up.With(off, at) : default;
        _down = _cusum.Lower > 0 ? _down.With(off, at) : default;
        if (side == CusumSide.None)
            return;
        Judge(side == CusumSide.Upper ? 1 : -1, side == CusumSide.Upper ? _up : _down, usual, job);
        if (Direction == 0)
            Clear();
    }

    /// <summary>It was seen to move while it was watched.</summary>
    public void Say(double shift, double usual, Instant since, AirOnset onset, string? job)
    {
        if (Direction != 0 || _told)
            return;
        (Direction, Shift, Usual, Since, Onset, _job, _well, _othersWell) = (Math.Sign(shift), shift, usual, since, onset, job, 0, 0);
    }

    /// <summary>How a run of the job lies, whatever was counted: back near the usual level, the trend is over.</summary>
    public void Recover(double off, string? job)
    {
        if (Direction == 0 && !_told)
            return;
        var well = (Direction < 0 || off < leastRise / 2) && (Direction > 0 || off > -leastFall / 2);
        if (!well)
            (_well, _othersWell) = (job == _job ? 0 : _well, 0);
        else if (job == _job || _told ? ++_well >= RunsThatClear : ++_othersWell >= OtherRunsThatClear)
            Clear();
    }

    /// <summary>A graver alarm has said it: nothing more is said until the quantity is back at its usual level.</summary>
    public void Tell()
    {
        Clear();
        _told = true;
    }

    /// <summary>Mended: all begins anew.</summary>
    public void Clear()
    {
        _cusum.Reset();
        (_up, _down, _job, _told, _well, _othersWell) = (default, default, null, false, 0, 0);
        (Direction, Shift, Usual, Since, Onset) = (0, 0, 0, default, AirOnset.Unknown);
    }

    public void Visit(StateVisitor state)
    {
        _cusum.Visit(state);
        _up.Visit(state);
        _down.Visit(state);
        state.Walk(ref _job);
        state.Walk(ref _well);
        state.Walk(ref _told);
        state.Walk(ref _othersWell);
        var (direction, shift, usual, since, onset) = (Direction, Shift, Usual, Since, Onset);
        state.Walk(ref direction);
        state.Walk(ref shift);
        state.Walk(ref usual);
        state.Walk(ref since);
        state.Walk(ref onset);
        (Direction, Shift, Usual, Since, Onset) = (direction, shift, usual, since, onset);
    }

    private void Judge(int direction, Side side, double usual, string? job)
    {
        var shift = side.Recent;
        if (direction > 0 ? shift < leastRise : shift > -leastFall)
            return;
        // A hand errs to both sides: several settings off to one side are not set so.
        Say(shift, usual, side.Since, side.Count >= SettingsThatAgree ? AirOnset.Creeping : AirOnset.BetweenRuns, job);
    }

    /// <summary>The observations since one side of the CUSUM was last at zero.</summary>
    private record struct Side(int Count, double Recent, Instant Since)
    {
        /// <summary>Weight of the newest in the mean of the last few, which say more of where it is now than all since it began.</summary>
        private const double Weight = 0.3;

        public readonly Side With(double off, Instant at) =>
            new(Count + 1, Recent + (Math.Max(Weight, 1.0 / (Count + 1)) * (off - Recent)), Count == 0 ? at : Since);

        public void Visit(StateVisitor state)
        {
            var (count, recent, since) = (Count, Recent, Since);
            state.Walk(ref count);
            state.Walk(ref recent);
            state.Walk(ref since);
            this = new Side(count, recent, since);
        }
    }
}
