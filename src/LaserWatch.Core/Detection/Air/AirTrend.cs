using LaserWatch.Detection.Sequential;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Air;

/// <summary>Whether a quantity has moved away from its usual level over runs, and stays away: told once, until it is back.</summary>
/// <remarks>
/// A two-sided CUSUM of the observations' scores, whatever the job, for what happens to a machine's air happens at all its jobs. A
/// change too small to matter is learned instead of told.
/// </remarks>
internal sealed class AirTrend(CusumDesign design, double leastRise, double leastFall)
{
    private const int RunsThatClear = 2;
    private const int OtherRunsThatClear = 5;

    private readonly Cusum _cusum = new(design);
    private Side _up;
    private Side _down;
    private string? _job;
    private int _well;
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
    public bool IsSuspicious => Direction != 0 || _cusum.Upper > design.DecisionInterval / 2 || _cusum.Lower > design.DecisionInterval / 2;

    /// <summary>What would be said if the observation ended here: a setting that is still in use has not been counted.</summary>
    public void Peek(double score, double off, double usual, Instant at, string? job)
    {
        if (Direction != 0)
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
        if (Direction != 0)
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
        if (Direction != 0)
            return;
        (Direction, Shift, Usual, Since, Onset, _job, _well, _othersWell) = (Math.Sign(shift), shift, usual, since, onset, job, 0, 0);
    }

    /// <summary>How a run of the job lies, whatever was counted: back near the usual level, the trend is over.</summary>
    public void Recover(double off, string? job)
    {
        if (Direction == 0)
            return;
        var well = Direction > 0 ? off < leastRise / 2 : off > -leastFall / 2;
        if (!well)
            (_well, _othersWell) = (job == _job ? 0 : _well, 0);
        else if (job == _job ? ++_well >= RunsThatClear : ++_othersWell >= OtherRunsThatClear)
            Clear();
    }

    /// <summary>Said by a graver alarm, or mended: all begins anew.</summary>
    public void Clear()
    {
        _cusum.Reset();
        (_up, _down, _job, _well, _othersWell) = (default, default, null, 0, 0);
        (Direction, Shift, Usual, Since, Onset) = (0, 0, 0, default, AirOnset.Unknown);
    }

    public void Visit(StateVisitor state)
    {
        _cusum.Visit(state);
        _up.Visit(state);
        _down.Visit(state);
        state.Walk(ref _job);
        state.Walk(ref _well);
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
        // The newest say more of where it is now than the mean of all since it began.
        var shift = direction > 0 ? Math.Max(side.Mean, side.Last) : Math.Min(side.Mean, side.Last);
        if (direction > 0 ? shift < leastRise : shift > -leastFall)
            return;
        var grew = side.Count >= 4 && Math.Abs(side.Last) > 1.5 * Math.Abs(side.First);
        Say(shift, usual, side.Since, grew ? AirOnset.Creeping : AirOnset.BetweenRuns, job);
    }

    /// <summary>The observations since one side of the CUSUM was last at zero.</summary>
    private record struct Side(int Count, double Sum, double First, double Last, Instant Since)
    {
        public readonly double Mean => Sum / Count;

        public readonly Side With(double off, Instant at) =>
            new(Count + 1, Sum + off, Count == 0 ? off : First, off, Count == 0 ? at : Since);

        public void Visit(StateVisitor state)
        {
            var (count, sum, first, last, since) = (Count, Sum, First, Last, Since);
            state.Walk(ref count);
            state.Walk(ref sum);
            state.Walk(ref first);
            state.Walk(ref last);
            state.Walk(ref since);
            this = new Side(count, sum, first, last, since);
        }
    }
}
