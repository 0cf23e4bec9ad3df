using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>One machine in one shop, second by second. The same plan, faults and seed tell the same story to the last digit.</summary>
internal sealed class Machine
{
    public const string Name = "bay1";

    /// <summary>Below this command, %, the current has no clear level (common practice).</summary>
    public const double LeastSteadyPercent = 30;

    private const double NightStep = 60;

    private readonly ShopPlan _plan;
    private readonly IReadOnlyList<Fault> _faults;
    private readonly Damage _damage;
    private readonly Work _work;
    private readonly Tube _tube;
    private readonly CoolantLoop _loop;
    private readonly AirSupply _air;
    private readonly Room _room;
    private readonly Sensing _sensing;
    private readonly Noise _noise;
    private readonly long _startNanoseconds;
    private readonly double _startDayOfYear;
    private readonly double _kilopascalsOfFirstJob;
    private (double Size, double Conductance) _kink = (0, 1);
    private (double Size, double Conductance) _leak = (0, 0);

    /// <param name="startDay">Monday of which week of the year, as a day of the year from 0.</param>
    public Machine(ShopPlan plan, IReadOnlyList<Fault> faults, ulong seed, int startDay)
    {
        var noise = new Noise(seed);
        _plan = plan;
        _faults = faults;
        _damage = new Damage(faults);
        _work = new Work(plan, noise.Branch(1));
        _tube = new Tube(plan.Tube, noise.Branch(2));
        _room = new Room(plan.Room, noise.Branch(3));
        _loop = new CoolantLoop(plan.Loop, plan.Room.MeanCelsius, noise.Branch(4));
        _air = new AirSupply(plan.Air, noise.Branch(5));
        _noise = noise.Branch(6);
        _sensing = new Sensing(plan, faults, noise.Branch(7));
        // 6 January 2025 was a Monday.
        var monday = new DateTimeOffset(2025, 1, 6, 0, 0, 0, TimeSpan.Zero).AddDays(startDay / 7 * 7);
        _startNanoseconds = Instant.From(monday).UnixNanoseconds;
        _startDayOfYear = 5 + (startDay / 7 * 7);
        _kilopascalsOfFirstJob = plan.Jobs.FirstOrDefault(job => job.Kilopascals > 0)?.Kilopascals ?? 0;
    }

    /// <summary>Seconds since the beginning.</summary>
    public double Time { get; private set; }

    /// <summary>Beam-on time so far, s.</summary>
    public double BeamSeconds { get; private set; }

    /// <summary>Time switched on so far, s.</summary>
    public double OnSeconds { get; private set; }

    /// <summary>Beam-on time in cuts at a command of a steady current, s.</summary>
    public double CuttingSeconds { get; private set; }

    /// <summary>Beam-on time in jobs with air, s.</summary>
    public double AirSeconds { get; private set; }

    /// <summary>Of it, with the true pressure more than a tenth below the job's, s.</summary>
    public double LowAirSeconds { get; private set; }

    public double CoolantInCelsius => _loop.InCelsius;

    /// <summary>When the coolant reaches a limit if the load of the last minutes goes on, s.</summary>
    public double CoolantSecondsTo(double limitCelsius) => _loop.SecondsTo(limitCelsius);

    public double DewPointCelsius => _room.DewPointCelsius;

    public double Kilopascals => _air.Kilopascals;

    public Instant InstantOf(double time) => new(_startNanoseconds + ((long)Math.Round(time * 1000) * 1_000_000));

    /// <summary>Lives so many days, and tells the sink.</summary>
    /// <param name="watch">Called at the end of each step with the time, after the sink.</param>
    public void Run(int days, ITelemetrySink sink)
    {
        foreach (var record in Records())
            sink.Take(record);
        var step = Math.Min(_plan.Sensors.Min(group => group.Interval), 1);
        var end = days * 86_400.0;
        var nextMinute = 0.0;
        var services = new Queue<ServiceEvent>(Services(days));
        for (double time = 0, seconds = NightStep; time < end; time += seconds)
        {
            Time = time;
            while (services.Count > 0 && services.Peek().At <= InstantOf(time))
                sink.Take(services.Dequeue());
            _damage.Follow(time);
            if (time >= nextMinute)
            {
                _tube.PassMinute(60);
                _room.PassMinute(60, _startDayOfYear + (time / 86_400), _work.HoursSinceOpening, _damage.Room, _damage.DewPoint);
                nextMinute = time + 60;
            }

            _work.Step(time, seconds, _damage.Work);
            seconds = _work.IsOpen ? step : NightStep - (time % NightStep);
            StepPhysics(seconds, time);
            TellRun(sink, time);
            if (_work.IsOpen)
                _sensing.Tell(time, this, sink);
            sink.StepDone(time);
        }
    }

    /// <summary>What a perfect sensor of the channel would say now.</summary>
    public double Truth(Channel channel, double time) => channel.Index switch
    {
        0 => CurrentTruth(time),
        1 => _work.Job?.PowerPercent ?? 0,
        2 => _work.BeamOn && (!_plan.Instruments.RasterFlickers || _work.Picture >= 1 || _noise.Chance(_work.Picture)) ? 1 : 0,
        3 => _air.Kilopascals * _air.Ripple(),
        4 => _air.LitresPerMinute,
        5 => _loop.InCelsius + _damage.CoolantOffset,
        6 => _loop.OutCelsius,
        7 => _loop.FlowLitresPerMinute,
        8 => _room.Celsius,
        9 => _room.RelativeHumidity,
        10 => BeamSeconds / 3600,
        _ => throw new ArgumentOutOfRangeException(nameof(channel), channel.Name, "Not a canonical channel that is simulated."),
    };

    private void StepPhysics(double seconds, double time)
    {
        var command = (_work.Job?.PowerPercent ?? 0) / 100;
        _tube.Step(seconds, command, _work.BeamOn, _loop.InCelsius, _damage);
        var heat = _work.BeamOn ? _tube.HeatWatts * _work.Picture : 0;
        _loop.Step(seconds, heat, _room.Celsius, _work.IsOpen, _damage);
        if (_work.IsOpen)
        {
            OnSeconds += seconds;
            BeamSeconds += _work.BeamOn ? seconds : 0;
            CuttingSeconds += _work is { BeamOn: true, Job: { Mode: CutMode.Vector, PowerPercent: >= LeastSteadyPercent } } ? seconds : 0;
        }

        if (_work.Began is { Kilopascals: > 0 } begun && _work.IsOtherJob)
            _air.SetFor(begun.Kilopascals);
        FollowLine();
        var needsAir = _work.Job is { Kilopascals: > 0 };
        var open = needsAir && (!_plan.Air.ValveFollowsBeam || _work.BeamOn || time - _work.BeamTurned < 1);
        _air.Step(seconds, open, _damage, _kink.Conductance, _leak.Conductance);
        if (_work.BeamOn && needsAir)
        {
            AirSeconds += seconds;
            LowAirSeconds += _air.Kilopascals < 0.9 * _work.Job!.Kilopascals ? seconds : 0;
        }
    }

    private void FollowLine()
    {
        if (_damage.Kink != _kink.Size)
        {
            _kink = (_damage.Kink, _damage.Kink <= 0 ? 1
                : AirPath.KinkFor(_damage.Kink, _kilopascalsOfFirstJob, _plan.Air.LineConductance, _plan.Air.NozzleConductance));
        }

        if (_damage.Leak != _leak.Size)
        {
            _leak = (_damage.Leak, _damage.Leak <= 0 ? 0
                : AirPath.LeakFor(_damage.Leak, _kilopascalsOfFirstJob, _plan.Air.LineConductance, _plan.Air.NozzleConductance));
        }
    }

    private void TellRun(ITelemetrySink sink, double time)
    {
        if (!_plan.AnnouncesRuns)
            return;
        if (_work.Began is { } begun)
            sink.Take(new JobEvent(Name, InstantOf(time), JobEventKind.Start, begun.Name));
        if (_work.Ended is { } ended)
            sink.Take(new JobEvent(Name, InstantOf(time), JobEventKind.End, ended.Name));
    }

    private double CurrentTruth(double time)
    {
        if (_work.Job is not { } job)
            return _damage.CurrentZero;
        var window = _plan.Instruments.CurrentWindow;
        var share = Math.Clamp((time - _work.BeamTurned) / window, 0, 1);
        var on = _work.BeamOn ? share : 1 - share;
        if (on <= 0 || _tube.Milliamps <= 0)
            return _damage.CurrentZero;
        var current = _tube.Milliamps * on;
        if (job.Mode == CutMode.Raster)
            current *= _work.Picture * (1 + (0.08 * _noise.Normal()));
        else if (_noise.Chance(job.CornerShare))
            current *= _noise.Between(0.35, 0.97);
        if (_tube.ComesInPulses)
            current *= _tube.PulseFactor();
        return (current * _damage.CurrentGain) + _damage.CurrentZero;
    }

    /// <summary>What the shop writes into its log: lens and mirrors every week, a good test cut every month, and a new tube.</summary>
    private IEnumerable<ServiceEvent> Services(int days)
    {
        List<ServiceEvent> services = [];
        for (var day = 4; day < days; day += 7)
        {
            services.Add(Service(day, "lens", "cleaned", ServiceEvent.NoDetails));
            services.Add(Service(day, "mirrors", "cleaned", ServiceEvent.NoDetails));
            services.Add(Service(day, "water-trap", "drained", ServiceEvent.NoDetails));
            if (day % 28 == 4 && _faults.Count == 0)
                services.Add(Service(day, "test-cut", "done", new Dictionary<string, string> { ["power"] = "60", ["speed"] = "12", ["outcome"] = "good" }));
        }

        services.AddRange(_faults.Where(fault => fault.Kind == FaultKind.TubeReplaced).Select(
            fault => new ServiceEvent(Name, InstantOf(fault.Onset), "tube", "replaced", "T-2", null, ServiceEvent.NoDetails)));
        return services.OrderBy(service => service.At);
    }

    private ServiceEvent Service(int day, string part, string action, IReadOnlyDictionary<string, string> details) =>
        new(Name, InstantOf((day * 86_400.0) + (16.5 * 3600)), part, action, null, null, details);

    private IEnumerable<JobRecord> Records()
    {
        if (!_plan.KeepsRecords)
            yield break;
        foreach (var job in _plan.Jobs)
        {
            double? current = _plan.RecordsCurrent && job.Mode == CutMode.Vector
                ? Math.Round(Tube.SteadyMilliamps(_plan.Tube, job.PowerPercent / 100, 1, 1), 1)
                : null;
            yield return new JobRecord(
                job.Name, InstantOf(-86_400), "material of " + job.Name, new PowerPercent(job.PowerPercent), job.Mode == CutMode.Raster ? 300 : 12,
                job.Kilopascals > 0 ? new Kilopascals(job.Kilopascals) : null, current is { } mA ? new Milliamps(mA) : null, job.Mode);
        }
    }
}
