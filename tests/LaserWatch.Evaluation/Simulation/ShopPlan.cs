using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>A shop with one machine: what it cuts, when, with what machine, and by what sensors it is seen.</summary>
internal sealed record ShopPlan
{
    public required string Name { get; init; }

    public required IReadOnlyList<PlannedJob> Jobs { get; init; }

    public double OpenHour { get; init; } = 8;

    public double CloseHour { get; init; } = 17;

    public bool Saturdays { get; init; }

    /// <summary>Beam-on hours aimed at on a working day.</summary>
    public double BeamHours { get; init; } = 3;

    public bool AnnouncesRuns { get; init; } = true;

    public bool KeepsRecords { get; init; } = true;

    /// <summary>Job records hold the tube current of the proven cut.</summary>
    public bool RecordsCurrent { get; init; }

    public TubePlan Tube { get; init; } = new();

    public LoopPlan Loop { get; init; } = new();

    public AirPlan Air { get; init; } = new();

    public RoomPlan Room { get; init; } = new();

    public required IReadOnlyList<SensorGroup> Sensors { get; init; }

    public SensorPlan Instruments { get; init; } = new();
}

/// <summary>Channels that one device reads together and sends in one message.</summary>
/// <param name="Interval">Seconds between messages.</param>
/// <param name="Jitter">Standard deviation of the interval, as a fraction of it.</param>
/// <param name="Late">Probability that a message comes up to 4 s after others of its time.</param>
/// <param name="Lost">Probability that a message never comes.</param>
internal sealed record SensorGroup(double Interval, double Jitter, double Late, double Lost, params Channel[] Channels)
{
    /// <summary>Everything by one device.</summary>
    public static SensorGroup All(double interval, double jitter = 0.01, double late = 0, double lost = 0) => new(
        interval, jitter, late, lost, Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure, Channel.CoolantIn, Channel.CoolantOut,
        Channel.CoolantFlow, Channel.AmbientTemperature, Channel.AmbientHumidity);
}

/// <summary>How good the sensors are.</summary>
internal sealed record SensorPlan
{
    /// <summary>White noise of the tube current, as a fraction of it.</summary>
    public double CurrentNoise { get; init; } = 0.008;

    /// <summary>Least step of the tube current, mA.</summary>
    public double CurrentStep { get; init; } = 0.05;

    /// <summary>Seconds over which the current is averaged: an edge of a cut within them shows in part.</summary>
    public double CurrentWindow { get; init; } = 0.3;

    public double PressureNoise { get; init; } = 0.6;

    public double PressureStep { get; init; } = 0.5;

    public double CelsiusNoise { get; init; } = 0.06;

    public double CelsiusStep { get; init; } = 0.1;

    public double FlowNoise { get; init; } = 0.02;

    public double FlowStep { get; init; } = 0.02;

    public double HumidityStep { get; init; } = 0.5;

    /// <summary>Probability that a sample of current or pressure is struck by interference.</summary>
    public double Interference { get; init; } = 2e-5;

    /// <summary>Probability of a reading of an engraving's lasing signal being that of the very moment, not of the enabled beam.</summary>
    public bool RasterFlickers { get; init; }

    /// <summary>Times a working day that the network is away for minutes.</summary>
    public double GapsPerDay { get; init; }

    /// <summary>Times a working day that the meter starts anew: away for 20 s.</summary>
    public double RestartsPerDay { get; init; }
}
