using LaserWatch.Jobs;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>What happens in the shop: opening and closing, one run after another, cuts within a run.</summary>
internal sealed class Work
{
    private const double Day = 86_400;
    private const double LeadIn = 4;

    private readonly ShopPlan _plan;
    private readonly Noise _noise;
    private readonly double _totalShare;
    private readonly double _meanGap;
    private readonly Straying _picture;
    private long _day = -1;
    private bool _worksToday;
    private double _open;
    private double _close;
    private double _next;
    private double _runEnd;
    private double _meanPicture;

    public Work(ShopPlan plan, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _totalShare = plan.Jobs.Sum(job => job.Share);
        _meanGap = MeanGapSeconds();
        _picture = new Straying(0.16, 8, noise);
    }

    /// <summary>The shop is open and the machine switched on.</summary>
    public bool IsOpen { get; private set; }

    public double HoursSinceOpening { get; private set; }

    /// <summary>The job under way; null between runs.</summary>
    public PlannedJob? Job { get; private set; }

    /// <summary>Set for the step in which a run began or ended.</summary>
    public PlannedJob? Began { get; private set; }

    public PlannedJob? Ended { get; private set; }

    /// <summary>The run's job is another than the one before: a person sets the air anew.</summary>
    public bool IsOtherJob { get; private set; }

    public bool BeamOn { get; private set; }

    /// <summary>When the beam last went on or off.</summary>
    public double BeamTurned { get; private set; }

    /// <summary>Share of the time the beam is on within a line of an engraving; 1 in a cut.</summary>
    public double Picture { get; private set; } = 1;

    private PlannedJob? LastJob { get; set; }

    public void Step(double time, double seconds, double workFactor)
    {
        (Began, Ended) = (null, null);
        var day = (long)(time / Day);
        if (day != _day)
            BeginDay(day);
        IsOpen = _worksToday && time >= _open && time < _close;
        HoursSinceOpening = _worksToday ? (time - _open) / 3600 : -1;
        if (!IsOpen)
        {
            if (Job is not null)
                EndRun(time);
            return;
        }

        if (Job is null)
        {
            if (time >= _next && time < _close - 900)
                BeginRun(time);
            return;
        }

        if (time >= _runEnd)
        {
            EndRun(time);
            _next = time + (_meanGap / workFactor * (0.3 + _noise.Exponential(0.7)));
            return;
        }

        FollowBeam(time, seconds);
    }

    private void BeginDay(long day)
    {
        _day = day;
        var weekday = day % 7;
        _worksToday = weekday < 5 || (weekday == 5 && _plan.Saturdays);
        _open = (day * Day) + (_plan.OpenHour * 3600) + _noise.Between(-600, 600);
        _close = (day * Day) + (_plan.CloseHour * 3600) + _noise.Between(-900, 1200);
        _next = _open + _noise.Between(300, 1500);
    }

    private void BeginRun(double time)
    {
        var pick = _noise.Uniform() * _totalShare;
        var job = _plan.Jobs[^1];
        foreach (var candidate in _plan.Jobs)
        {
            if (pick < candidate.Share)
            {
                job = candidate;
                break;
            }

            pick -= candidate.Share;
        }

        // A batch of one job follows itself more often than chance.
        if (LastJob is not null && _noise.Chance(0.4))
            job = LastJob;
        IsOtherJob = !ReferenceEquals(job, LastJob);
        (Job, Began, LastJob) = (job, job, job);
        _runEnd = Math.Min(time + Math.Max(_noise.LogNormal(job.Minutes * 60, 0.5), 90), _close - 60);
        BeamOn = false;
        BeamTurned = time;
        _next = time + LeadIn;
        _meanPicture = _noise.Between(0.15, 0.6);
        Picture = 1;
    }

    private void EndRun(double time)
    {
        Ended = Job;
        Job = null;
        if (BeamOn)
            BeamTurned = time;
        BeamOn = false;
    }

    private void FollowBeam(double time, double seconds)
    {
        var job = Job!;
        while (time >= _next)
        {
            BeamOn = !BeamOn && _next < _runEnd - 3;
            BeamTurned = _next;
            _next += BeamOn
                ? Math.Max(_noise.LogNormal(job.CutSeconds, job.Mode == CutMode.Raster ? 0.1 : 0.6), 0.3)
                : 0.15 + _noise.Exponential(job.MoveSeconds);
        }

        Picture = job.Mode == CutMode.Raster ? Math.Clamp(_meanPicture + _picture.Step(seconds), 0.04, 0.97) : 1;
    }

    /// <summary>Time between runs, in seconds, so that the day has about its beam hours.</summary>
    private double MeanGapSeconds()
    {
        double minutes = 0, duty = 0;
        foreach (var job in _plan.Jobs)
        {
            // Mean of a log-normal length, from its median.
            var cut = job.CutSeconds * (job.Mode == CutMode.Raster ? 1.005 : Math.Exp(0.18));
            var length = job.Minutes * Math.Exp(0.125);
            minutes += job.Share / _totalShare * length;
            duty += job.Share / _totalShare * length * cut / (cut + 0.15 + job.MoveSeconds);
        }

        duty /= minutes;
        var runs = _plan.BeamHours / duty / (minutes / 60);
        var idle = (_plan.CloseHour - _plan.OpenHour - 0.5) - (runs * minutes / 60);
        return Math.Max(idle * 3600 / runs, 30);
    }
}
