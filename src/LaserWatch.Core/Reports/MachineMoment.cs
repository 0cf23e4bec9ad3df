using System.Numerics;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

/// <summary>What is known of a machine at one moment of its stored time.</summary>
internal sealed class MachineMoment(MonitorOptions options, JobBook jobs)
{
    /// <summary>A commanded state is told again or changed within this, or it is not known any more.</summary>
    private const double LeastHoldOfCommands = 120;
    private const long BeamPause = 5_000_000_000;

    // A room's sensors say the same few tenths over and over.
    private const int DewPointBits = 8;

    private readonly long _airRises = (long)(options.AirPressure.StartUpSeconds * 1e9);
    private HeldChannel?[] _channels = new HeldChannel?[Channel.Canonical.Count];
    private readonly (double Air, double Humidity, double DewPoint)[] _dewPoints = new (double, double, double)[1 << DewPointBits];
    private HeldChannel? _lasing;
    private HeldChannel? _current;

    // No value that holds now ends to hold before it; it may end later, and is looked up anew when that much time has passed.
    private long _nothingEndsBefore = long.MaxValue;
    private long _beamSince = long.MinValue;
    private long _beamLastOn = long.MinValue;
    private bool _beamWasOn;

    /// <summary>Now, ns since 1970. What is asked below holds from here to the next change.</summary>
    public long At { get; private set; } = long.MinValue;

    /// <summary>The record of the job under way; null where none is, or nothing was recorded for it.</summary>
    public JobRecord? Record { get; private set; }

    public bool IsInRun { get; private set; }

    /// <summary>Whether the beam is on: from <c>lasing</c> where that was ever heard, else from tube current; null where it is not known now.</summary>
    public bool? BeamOn =>
        _lasing is { } lasing ? (lasing.Until > At ? lasing.Value >= 0.5 : null)
        : _current is { } current && current.Until > At ? current.Value >= options.Runs.BeamOnMilliamps
        : null;

    /// <summary>The beam is on; or nothing ever told of the beam, and any time may be time in use.</summary>
    public bool MayBeInUse => BeamOn ?? (_lasing is null && _current is null);

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
            var mixed = (BitConverter.DoubleToUInt64Bits(air) ^ BitOperations.RotateLeft(BitConverter.DoubleToUInt64Bits(humidity), 17)) * 0x9e3779b97f4a7c15;
            ref var known = ref _dewPoints[mixed >> (64 - DewPointBits)];
            if (air != known.Air || humidity != known.Humidity)
                known = (air, humidity, DewPoint.FromRelativeHumidity(air, humidity));
            return known.DewPoint;
        }
    }

    /// <summary>The channel speaks for the first time.</summary>
    public HeldChannel Meet(Channel channel)
    {
        if (channel.Index >= _channels.Length)
            Array.Resize(ref _channels, Math.Max(channel.Index + 1, 2 * _channels.Length));
        var held = new HeldChannel(options.Sensors, Plausible(channel), channel == Channel.Lasing || channel == Channel.Power ? LeastHoldOfCommands : 0);
        _channels[channel.Index] = held;
        if (channel == Channel.Lasing)
            _lasing = held;
        else if (channel == Channel.TubeCurrent)
            _current = held;
        return held;
    }

    /// <summary>To be called with the ends of what new samples tell, or with the first of them.</summary>
    public void MindEnd(long until) => _nothingEndsBefore = Math.Min(_nothingEndsBefore, until);

    public void Take(JobEvent change)
    {
        IsInRun = change.Kind == JobEventKind.Start;
        Record = IsInRun && change.Job is { } job ? jobs.Find(job, change.At) : null;
    }

    /// <summary>The end of the piece that begins now, within which nothing changes by itself; at most <paramref name="end"/>.</summary>
    public long NextChange(long end)
    {
        if (_nothingEndsBefore < end)
        {
            _nothingEndsBefore = long.MaxValue;
            foreach (var held in _channels)
            {
                if (held is not null && held.Until > At)
                    _nothingEndsBefore = Math.Min(_nothingEndsBefore, held.Until);
            }

            end = Math.Min(end, _nothingEndsBefore);
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
