using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Evaluation.OpenData;

/// <summary>Sets whose quantities can stand for ours: played through a watch, with the mapping said.</summary>
internal static class MappedSets
{
    private const string Machine = "bay1";
    private const string Job = "job";

    /// <summary>A fuel cell's voltage at constant current falls as a tube's current at constant power does.</summary>
    public static IEnumerable<DataRow> FuelCell(string folder)
    {
        var table = DataTable.Read(Path.Combine(folder, "fc1.csv"));
        var thresholds = DataTable.Read(Path.Combine(folder, "thresholds.csv"));
        foreach (var sag in new[] { 0.035, 0.04, 0.05 })
        {
            var options = MonitorOptions.Default with { TubeCurrent = new TubeCurrentOptions { Sag = sag, Step = Math.Max(sag, 0.045), LearnBeamHours = 20 } };
            var alarms = PlayFuelCell(table, options);
            var first = alarms.FirstOrDefault(alarm => alarm.Change.Condition == Conditions.TubeCurrentSag);
            var others = string.Join(", ", alarms.Where(alarm => alarm.Change.Condition != Conditions.TubeCurrentSag && alarm.Change.Priority > AlarmPriority.Low)
                .GroupBy(alarm => alarm.Change.Condition).Select(g => Text($"{g.Key} {g.Count()}, first at {g.First().Hours:0} h")));
            var row = Array.FindIndex(thresholds["loss_threshold_pct"], loss => Math.Abs(loss - (100 * sag)) < 0.01);
            yield return new DataRow(
                "fuelcell FC1", Text($"voltage at constant current, sag at {100 * sag:0.0} %"),
                "MachineWatch: voltage as tube_current (6 mA a volt), constant power, beam always on, filled in by the minute between its hours; coolant_flow hourly, as a quiet channel; where two hours read the same the filling stands still, and sensor-stuck says so",
                Text($"sag {(first.Change is null ? "not told" : Text($"told at {first.Hours:0} h"))}; others: {(others.Length == 0 ? "none" : others)}"),
                Text($"voltage first lower by so much at {Hours(thresholds["voltage_first_h"][row])}, for good at {Hours(thresholds["voltage_for_good_h"][row])} (delays good to ± 10 h)"));
        }

        static string Hours(double hours) => double.IsNaN(hours) ? "never" : Text($"{hours:0} h");
    }

    /// <summary>A duct's pressure in a daily run with a slow rise at its start.</summary>
    public static IEnumerable<DataRow> Duct(string folder)
    {
        var table = DataTable.Read(Path.Combine(folder, "mzvav_2_1.csv"));
        foreach (var (scale, how) in new[] { (60, "a minute as a second, so that the rise takes 10 to 20 s"), (1, "as it is, a sample a minute") })
        {
            var alarms = PlayDuct(table, scale);
            var said = string.Join(", ", alarms.GroupBy(alarm => alarm.Condition).Select(g => $"{g.Key} {g.Count()}"));
            yield return new DataRow(
                "lbnl mzvav", "three healthy days of a duct's pressure", $"MachineWatch: pressure as air_pressure (100 kPa an inch of water), the set point as the job's record, fan on as run and beam; {how}",
                said.Length == 0 ? "no alarm" : said, "healthy: every alarm is false, unless the pressure was truly low while it rose");
        }
    }

    /// <summary>A real room's temperature and humidity, without faults.</summary>
    public static IEnumerable<DataRow> OfficeRoom(string folder)
    {
        foreach (var file in new[] { "datatraining.csv", "datatest.csv" })
        {
            var table = DataTable.Read(Path.Combine(folder, file));
            var watch = new MachineWatch(Machine, MonitorOptions.Default, new JobBook());
            List<AlarmChange> alarms = [];
            for (var i = 0; i < table.Rows; i++)
            {
                var at = Instant.FromUnixSeconds(table.Times[i] / 1000);
                var open = at.ToDateTimeOffset().Hour is >= 8 and < 18;
                Raised(watch.Observe(at, [
                    new(Channel.Lasing, open ? 1 : 0), new(Channel.CoolantIn, 20 + (0.3 * Math.Sin(i * 0.7))),
                    new(Channel.AmbientTemperature, table["temperature_c"][i]), new(Channel.AmbientHumidity, table["humidity_pct"][i])]), alarms);
                Raised(watch.Tick(at + TimeSpan.FromSeconds(1)), alarms);
            }

            yield return new DataRow(
                "occupancy", file, "MachineWatch: ambient_temperature and ambient_humidity as they are; beam on from 8 to 18 h, coolant at 20 °C added",
                Text($"{alarms.Count} alarms in {(table.Times[^1] - table.Times[0]) / 86_400_000:0.0} days"), "healthy: none is right");
        }
    }

    private static List<(double Hours, AlarmChange Change)> PlayFuelCell(DataTable table, MonitorOptions options)
    {
        var watch = new MachineWatch(Machine, options, new JobBook());
        List<(double, AlarmChange)> raised = [];
        List<AlarmChange> now = [];
        var start = table.Times[0];
        for (var i = 0; i + 1 < table.Rows; i++)
        {
            var (from, to) = (table.Times[i], table.Times[i + 1]);
            for (var t = from; t < to; t += 60_000)
            {
                var share = (t - from) / (to - from);
                var at = Instant.FromUnixSeconds(t / 1000);
                var voltage = table["stack_voltage_v"][i] + (share * (table["stack_voltage_v"][i + 1] - table["stack_voltage_v"][i]));
                Raised(watch.Observe(at, [new(Channel.Lasing, 1), new(Channel.Power, 60), new(Channel.TubeCurrent, 6 * voltage)]), now);
                if (t == from)
                    Raised(watch.Observe(at, [new(Channel.CoolantFlow, table["coolant_flow_lpm"][i])]), now);
                Raised(watch.Tick(at + TimeSpan.FromSeconds(1)), now);
                raised.AddRange(now.Select(change => ((t - start) / 3_600_000, change)));
                now.Clear();
            }
        }

        return raised;
    }

    private static List<AlarmChange> PlayDuct(DataTable table, int faster)
    {
        var book = new JobBook();
        var setPoint = table["supply_air_duct_static_pressure_set_point_inwg_or_psi"];
        var pressure = table["supply_air_duct_static_pressure_inwg_or_psi"];
        var fan = table["supply_air_fan_status"];
        var start = Instant.FromUnixSeconds(table.Times[0] / 1000);
        book.Add(new JobRecord(Job, start, null, null, null, new Kilopascals(100 * setPoint[0]), null));
        var watch = new MachineWatch(Machine, MonitorOptions.Default, book);
        List<AlarmChange> alarms = [];
        var running = false;
        for (var i = 0; i < table.Rows; i++)
        {
            var at = start + TimeSpan.FromMilliseconds((table.Times[i] - table.Times[0]) / faster);
            var on = fan[i] == 1;
            if (on != running)
                Raised(watch.Observe(new JobEvent(Machine, at, on ? JobEventKind.Start : JobEventKind.End, Job)), alarms);
            running = on;
            Raised(watch.Observe(at, [new(Channel.Lasing, on ? 1 : 0), new(Channel.AirPressure, 100 * pressure[i])]), alarms);
            Raised(watch.Tick(at + TimeSpan.FromMilliseconds(500)), alarms);
        }

        return alarms;
    }

    private static void Raised(IReadOnlyList<AlarmChange> changes, List<AlarmChange> into) => into.AddRange(changes.Where(change => change.State == AlarmState.Unacknowledged));

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
