using LaserWatch.Evaluation.Simulation;
using LaserWatch.Telemetry;
using static LaserWatch.Evaluation.Simulation.PlannedJob;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>The kinds of shop that the scenarios are played in.</summary>
internal static class Shops
{
    private static readonly PlannedJob[] Mixed =
    [
        Vector("birch-6-cut", 66, 210, 14, 3), Vector("acrylic-3-cut", 45, 120, 8, 2), Vector("mdf-3-cut", 55, 180, 10, 2),
        Raster("slate-engrave", 35, 40, 30, 1),
    ];

    private static readonly LoopPlan Chiller = new() { Chiller = true, Litres = 9, SetPointCelsius = 20, HysteresisKelvins = 0.5 };
    private static readonly LoopPlan Radiator = new() { Litres = 12, RadiatorWattsPerKelvin = 80 };

    /// <summary>The plainest: one device a second, chiller, good regulator.</summary>
    public static ShopPlan Plain { get; } = new() { Name = "plain", Jobs = Mixed, Loop = Chiller, Sensors = [SensorGroup.All(1)] };

    public static ShopPlan Radiating { get; } = new()
    {
        Name = "radiator", Jobs = Mixed, Loop = Radiator, Sensors = [SensorGroup.All(2, 0.05)], BeamHours = 3.5,
        Tube = new TubePlan { SlowStraying = 0.006 },
    };

    public static ShopPlan RasterHeavy { get; } = new()
    {
        Name = "raster-heavy", Loop = Chiller, BeamHours = 4,
        Jobs = [Raster("photo-engrave", 38, 35, 40, 5), Raster("stamp-engrave", 60, 60, 25, 3), Vector("ply-4-cut", 60, 180, 6, 2)],
        Sensors = [SensorGroup.All(1)], Instruments = new SensorPlan { RasterFlickers = true },
    };

    public static ShopPlan NoRecords { get; } = new()
    {
        Name = "no-records", Jobs = Mixed, Loop = Chiller, KeepsRecords = false, AnnouncesRuns = false, Sensors = Apart(1, 1, 5, 60),
    };

    public static ShopPlan Inferred { get; } = new()
    {
        Name = "inferred", Loop = Radiator, AnnouncesRuns = false, Sensors = [SensorGroup.All(5, 0.02)],
        Jobs = [Vector("birch-6-cut", 66, 210, 14, 3), Vector("acrylic-3-cut", 45, 120, 8, 2), Vector("mdf-3-cut", 55, 180, 10, 2)],
    };

    public static ShopPlan Sawtooth { get; } = new()
    {
        Name = "sawtooth", Jobs = Mixed, Loop = Chiller, Sensors = Apart(1, 0.5, 5, 30),
        Air = new AirPlan { TankLitres = 24, SwingPassed = 0.05, SettingScatter = 0.008, CompressorLitresPerMinute = 110 },
    };

    public static ShopPlan Humid { get; } = new()
    {
        Name = "humid", Jobs = Mixed, Loop = Chiller, Sensors = [SensorGroup.All(2)],
        Room = new RoomPlan { MeanCelsius = 25, SeasonKelvins = 4, MeanDewPointCelsius = 15, SeasonDewPointKelvins = 6 },
    };

    public static ShopPlan SlowMeter { get; } = new()
    {
        Name = "every-10-s", Jobs = Mixed, Loop = Radiator, Sensors = [SensorGroup.All(10, 0.02)], RecordsCurrent = true,
    };

    public static ShopPlan MinuteMeter { get; } = new()
    {
        Name = "every-60-s", Jobs = Mixed, Loop = Chiller, Sensors = [SensorGroup.All(60, 0.01)], BeamHours = 4,
    };

    public static ShopPlan Cheap { get; } = new()
    {
        Name = "cheap-sensors", Jobs = Mixed, Loop = Radiator, BeamHours = 2.5,
        Sensors = [SensorGroup.All(2, 0.2, 0.02, 0.03)],
        Instruments = new SensorPlan
        {
            CurrentNoise = 0.012, CurrentStep = 0.25, PressureNoise = 1.5, PressureStep = 2, CelsiusNoise = 0.1, CelsiusStep = 0.5, FlowStep = 0.1,
            HumidityStep = 1, Interference = 2e-4, GapsPerDay = 1, RestartsPerDay = 0.5,
        },
    };

    public static ShopPlan Garage { get; } = new()
    {
        Name = "garage", Jobs = Mixed, Loop = Radiator with { Litres = 25 }, Sensors = [SensorGroup.All(3, 0.02)], BeamHours = 2, Saturdays = true,
        Room = new RoomPlan { MeanCelsius = 17, SeasonKelvins = 6, DayKelvins = 3, WeatherKelvins = 2, ColdMorningKelvins = 5, OpenDoorKelvins = 6, MeanDewPointCelsius = 6 },
    };

    public static ShopPlan Loft { get; } = new()
    {
        Name = "hot-loft", Jobs = Mixed, Loop = Radiator with { RadiatorWattsPerKelvin = 110 }, Sensors = [SensorGroup.All(2)], BeamHours = 4,
        Room = new RoomPlan { MeanCelsius = 20, SeasonKelvins = 5, DayKelvins = 3.5, WeatherKelvins = 2 },
    };

    public static ShopPlan CurrentOnly { get; } = new()
    {
        Name = "current-only", Jobs = [Vector("cut", 62, 200, 12), Vector("cut-thin", 48, 150, 7)], Loop = Chiller, KeepsRecords = false, AnnouncesRuns = false,
        Sensors = [new SensorGroup(1, 0.02, 0, 0, Channel.TubeCurrent, Channel.Power)],
    };

    public static ShopPlan AirOnly { get; } = new()
    {
        Name = "air-only", Jobs = Mixed, Loop = Chiller, Sensors = [new SensorGroup(0.5, 0.02, 0, 0, Channel.AirPressure, Channel.Lasing)],
    };

    public static ShopPlan TwoShifts { get; } = new()
    {
        Name = "two-shifts", Jobs = Mixed, Loop = Chiller with { CompressorWatts = 1200 }, OpenHour = 6, CloseHour = 21, BeamHours = 6.5, Saturdays = true,
        Sensors = [SensorGroup.All(2)], RecordsCurrent = true,
    };

    public static ShopPlan Engraver { get; } = new()
    {
        Name = "engraver", Loop = Radiator, BeamHours = 3, Sensors = [SensorGroup.All(2)],
        Jobs = [Raster("wood-engrave", 18, 20, 45, 3), Raster("glass-engrave", 24, 0, 30, 2), Vector("score", 15, 60, 5, 1), Vector("ply-3-cut", 52, 170, 6, 1)],
    };

    public static ShopPlan ValveWithBeam { get; } = new()
    {
        Name = "valve-with-beam", Jobs = Mixed, Loop = Chiller, Sensors = Apart(1, 0.5, 5, 60), Air = new AirPlan { ValveFollowsBeam = true, FillSeconds = 0.4 },
    };

    /// <summary>A supply near its voltage limit: the highest commands clip first.</summary>
    public static ShopPlan AtLimit { get; } = new()
    {
        Name = "at-limit", Loop = Chiller, RecordsCurrent = true, Sensors = [SensorGroup.All(1)],
        Jobs = [Vector("thick-cut", 92, 250, 18, 2), Vector("mid-cut", 65, 200, 12, 2), Vector("thin-cut", 42, 120, 8, 2)],
        Tube = new TubePlan { Headroom = 1.08, SlowStraying = 0.006 },
    };

    public static ShopPlan Flow { get; } = new()
    {
        Name = "flow-fitted", Jobs = Mixed, Loop = Chiller,
        Sensors = [SensorGroup.All(1), new SensorGroup(1, 0.01, 0, 0, Channel.AirFlow)],
    };

    public static ShopPlan Quarter { get; } = new()
    {
        Name = "quarter-second", Jobs = Mixed, Loop = Chiller, Sensors = Apart(0.25, 0.25, 5, 60),
    };

    /// <summary>Played through a whole healthy year.</summary>
    public static IReadOnlyList<ShopPlan> WholeYear { get; } =
        [Plain, Radiating, RasterHeavy, Inferred, Humid, SlowMeter, MinuteMeter, Cheap, Garage, Loft, AtLimit];

    /// <summary>Played through the second half of it only: they differ from the others by what no season touches.</summary>
    public static IReadOnlyList<ShopPlan> HalfYear { get; } = [NoRecords, Sawtooth, CurrentOnly, AirOnly, TwoShifts, Engraver, ValveWithBeam, Flow];

    /// <summary>Each kind of quantity by its own device.</summary>
    private static SensorGroup[] Apart(double current, double air, double water, double room) =>
    [
        new(Math.Min(current, 1), 0.01, 0, 0, Channel.Power, Channel.Lasing),
        new(current, 0.03, 0.001, 0.001, Channel.TubeCurrent),
        new(air, 0.03, 0.001, 0.001, Channel.AirPressure),
        new(water, 0.05, 0, 0.002, Channel.CoolantIn, Channel.CoolantOut, Channel.CoolantFlow),
        new(room, 0.05, 0, 0.002, Channel.AmbientTemperature, Channel.AmbientHumidity),
    ];
}
