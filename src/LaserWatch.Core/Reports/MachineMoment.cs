using LaserWatch.Detection;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>What is known of a machine at one moment of its stored time.</summary>
internal sealed class MachineMoment(MonitorOptions options, JobBook jobs)
{
    /// <summary>A commanded state is told again or changed within this, or it is not known any more.</summary>
    private const double LeastHoldOfCommands = 120;
    private const long BeamPause = 5_000_000_000;

    private readonly long _airRises = (long)(options.AirPressure.StartUpSeconds * 1e9);
    private HeldChannel?[] _channels = new HeldChannel?[Channel.Canonical.Count];
    private long _beamSince = long.MinValue;
    private long _beamLastOn = long.MinValue;
    private bool _beamWasOn;
    private double _dewAir = double.NaN;
    private double _dewHumidity = double.NaN;
    private double _dewPoint;

    /// <summary>Now, ns since 1970. What is asked below holds from here to the next change.</summary>
    public long At { get; private set; } = long.MinValue;

    /// <summary>The record of the job under way; null where none is, or nothing was recorded for it.</summary>
    public JobRecord? Record { get; private set; }

    public bool IsInRun { get; private set; }

    /// <summary>Whether the beam is on: from <c>lasing</c> where that was ever heard, else from tube current; null where it is not known now.</summary>
    public bool? BeamOn =>
        Held(Channel.Lasing) is { } lasing ? (lasing.Until > At ? lasing.Value >= 0.5 : null)
        : Held(Channel.TubeCurrent) is { } current && current.Until > At ? current.Value >= options.Runs.BeamOnMilliamps
        : null;

    /// <summary>The beam is on; or nothing ever told of the beam, and any time may be time in use.</summary>
    public bool MayBeInUse => BeamOn ?? (Held(Channel.Lasing) is null && Held(Channel.TubeCurrent) is null);

    /// <summary>The beam has been on long enough for the air to have risen behind it.</summary>
    public bool IsAirDue => BeamOn == true && At - _beamSince >= _airRises;

    public HeldChannel? Held(Channel channel) => channel.Index < _channels.Length ? _channels[channel.Index] : null;

    /// <summary>The value that holds now; null where nothing does.</summary>
    public double? this[Channel channel] => Held(channel) is { } held && held.Until > At ? held.Value : null;

    /// <summary>The room's dew point, °C; null where it is not known.</summary>
    public double? DewPointCelsius
    {
        get
        {
            if (this[Channel.AmbientTemperature] is not { } air || this[Channel.AmbientHumidity] is not { } humidity || !(humidity > 0))
                return null;
            if (air != _dewAir || humidity != _dewHumidity)
                (_dewAir, _dewHumidity, _dewPoint) = (air, humidity, DewPoint.FromRelativeHumidity(air, humidity));
            return _dewPoint;
        }
    }

    public void Take(in Sample sample)
    {
        var channel = sample.Channel;
        if (channel.Index >= _channels.Length)
            Array.Resize(ref _channels, Math.Max(channel.Index + 1, 2 * _channels.Length));
        var held = _channels[channel.Index] ??= new HeldChannel(
            options.Sensors, Plausible(channel), channel == Channel.Lasing || channel == Channel.Power ? LeastHoldOfCommands : 0);
        held.Take(sample.At.UnixNanoseconds, sample.Value);
    }

    public void Take(JobEvent change)
    {
        IsInRun = change.Kind == JobEventKind.Start;
        Record = IsInRun && change.Job is { } job ? jobs.Find(job, change.At) : null;
    }

    /// <summary>The end of the piece that begins now, within which nothing changes by itself; at most <paramref name="end"/>.</summary>
    public long NextChange(long end)
    {
        foreach (var held in _channels)
        {
            if (held is not null && held.Until > At && held.Until < end)
                end = held.Until;
        }

        // The moment from which the air is judged is a change too.
        if (BeamOn == true && _beamSince + _airRises is var due && due > At && due < end)
            end = due;
        return end;
    }

    public void MoveTo(long at)
    {
        if (_beamWasOn)
            _beamLastOn = at;
        At = at;
    }

    /// <summary>To be called once the samples of this moment are taken.</summary>
    public void FollowBeam()
    {
        var on = BeamOn == true;
        if (on && !_beamWasOn && (_beamLastOn == long.MinValue || At - _beamLastOn > BeamPause))
            _beamSince = At;
        _beamWasOn = on;
    }

    private PlausibleRange? Plausible(Channel channel) =>
        channel == Channel.TubeCurrent ? options.Sensors.TubeCurrentMilliamps
        : channel == Channel.Power ? options.Sensors.PowerPercent
        : channel == Channel.AirPressure ? options.Sensors.AirPressureKilopascals
        : channel == Channel.AirFlow ? options.Sensors.AirFlowLitresPerMinute
        : channel == Channel.CoolantIn || channel == Channel.CoolantOut ? options.Sensors.CoolantCelsius
        : channel == Channel.CoolantFlow ? options.Sensors.CoolantFlowLitresPerMinute
        : channel == Channel.AmbientTemperature ? options.Sensors.AmbientCelsius
        : channel == Channel.AmbientHumidity ? options.Sensors.HumidityPercent
        : null;
}
