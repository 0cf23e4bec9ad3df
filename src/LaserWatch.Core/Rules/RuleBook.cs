using LaserWatch.Models;
using LaserWatch.Monitoring;

namespace LaserWatch.Rules;

/// <summary>All rules, one line each, in the order in which they are asked and told.</summary>
public static class RuleBook
{
    private static readonly Line[] Lines =
    [
        new(AirPressureLost.About, (models, options) => new AirPressureLost(models.Air, options.AirPressure)),
        new(AirPressureLow.About, (models, options) => new AirPressureLow(models.Air, models.UsualAir, options.AirPressure)),
        new(AirPathRestricted.About, (models, options) => new AirPathRestricted(models.Air, models.UsualAir, options.AirPressure)),
        new(WaterTrapDue.About, (models, options) => new WaterTrapDue(models.Ledger, options.WaterTrap)),
        new(TubeCurrentHigh.About, (_, options) => new TubeCurrentHigh(options.TubeCurrent)),
        new(CoolantFlowLow.About, (models, options) => new CoolantFlowLow(models.UsualFlow, models.Rise, options.Coolant)),
        new(CoolantHot.About, (_, options) => new CoolantHot(options.Coolant)),
        new(CoolantCold.About, (_, options) => new CoolantCold(options.Coolant)),
        new(CoolantDrift.About, (models, options) => new CoolantDrift(models.Loop, models.Rise, options.Coolant)),
        new(CoolantTimeToLimit.About, (models, options) => new CoolantTimeToLimit(models.Loop, options.Coolant)),
        new(CondensationRisk.About, (_, options) => new CondensationRisk(options.Coolant)),
        new(SensorSilent.About, (models, _) => new SensorSilent(models.Sensors)),
        new(SensorStuck.About, (models, _) => new SensorStuck(models.Sensors)),
        new(SensorImplausible.About, (models, _) => new SensorImplausible(models.Sensors)),
        // The step before the sag: it says more.
        new(TubeCurrentStep.About, (models, options) => new TubeCurrentStep(models.Tube, models.Ledger, options.TubeCurrent, options.TubeLife)),
        new(TubeCurrentSag.About, (models, options) => new TubeCurrentSag(models.Tube, models.Ledger, options.TubeCurrent, options.TubeLife)),
        new(DoorOpenWhileLasing.About, (_, _) => new DoorOpenWhileLasing()),
        new(ServiceDue.About, (models, options) => new ServiceDue(models.Ledger, options.Upkeep)),
        new(TubeLife.About, (models, options) => new TubeLife(models.Ledger, models.Tube, options.TubeLife)),
    ];

    /// <summary>What is fixed of each rule.</summary>
    public static IReadOnlyList<RuleSheet> Sheets { get; } = [.. Lines.Select(line => line.Sheet)];

    /// <summary>The sheet of a condition; null where no rule has it, as with the limits that a shop sets.</summary>
    public static RuleSheet? Find(string condition) => Sheets.FirstOrDefault(sheet => sheet.Condition == condition);

    /// <summary>The rules of one machine, and after them the limits that the shop has set.</summary>
    internal static Rule[] Make(MachineModels models, MonitorOptions options) =>
        [.. Lines.Select(line => line.Make(models, options)), .. options.Limits.Select(pair => new ChannelLimit(pair.Key, pair.Value))];

    private sealed record Line(RuleSheet Sheet, Func<MachineModels, MonitorOptions, Rule> Make);
}

public static partial class Conditions
{
    /// <summary>Those of the rule book, in its order.</summary>
    public static IReadOnlyList<string> All { get; } = [.. RuleBook.Sheets.Select(sheet => sheet.Condition)];
}
