using System.Globalization;

namespace LaserWatch.Evaluation.OpenData;

/// <summary>Sets whose quantities are none of ours: the generic sequential detector alone.</summary>
internal static class GenericSets
{
    private const double Shift = 1.5;

    /// <summary>Valve and fluid faults of a pump loop, a sample a second; flow, and flow with the fluid's temperature.</summary>
    public static IEnumerable<DataRow> PumpLoop(string folder)
    {
        var files = Directory.GetFiles(folder, "*.csv").Where(path => Path.GetFileName(path) is var name && (name.StartsWith("valve", StringComparison.Ordinal) || name.StartsWith("other", StringComparison.Ordinal)))
            .Order(StringComparer.Ordinal).ToList();
        foreach (var (what, channels, valvesOnly) in new[]
        {
            ("valve faults, flow", new[] { "flow_lpm" }, true), ("valve faults, flow and fluid temperature", ["flow_lpm", "fluid_temp_c"], true),
            ("all faults, flow and fluid temperature", ["flow_lpm", "fluid_temp_c"], false),
        })
        {
            var score = new PointScore();
            var (found, faults) = (0, 0);
            foreach (var path in files.Where(path => !valvesOnly || Path.GetFileName(path).StartsWith("valve", StringComparison.Ordinal)))
            {
                var hit = ScorePumpFile(DataTable.Read(path), channels, score);
                faults++;
                found += hit ? 1 : 0;
            }

            yield return new DataRow(
                "skab", what, "generic CUSUM: 5 s means, learned from each file's first 400 s, one false alarm a day",
                Text($"{found} of {faults} faults found; point-wise F1 {score.F1:0.00}, false alarms {score.FalseAlarmPercent:0.0} %, missed {score.MissedAlarmPercent:0.0} %"),
                "F1 / FAR / MAR of the set's own list (all channels, all its files): T²+Q 0.76 / 26.6 / 24.9; T² 0.66 / 19.2 / 42.6; isolation forest 0.29 / 2.6 / 82.9; convolutional autoencoder 0.78 / 13.6 / 28.0");
        }

        var quiet = DataTable.Read(Path.Combine(folder, "anomaly-free.csv"));
        var alarms = new[] { "pressure_bar", "motor_current_a" }.Sum(channel => Alarms(quiet[channel], new LevelWatch(5, 1200, Shift, 17_280)));
        yield return new DataRow(
            "skab", "fault-free run, pressure and current", "generic CUSUM, as above, learned from 20 min",
            Text($"{alarms} alarms in {(quiet.Rows - 1200) / 3600.0:0.0} h on two channels"), "");
    }

    /// <summary>Temperature of a machine room, hourly, with two known failures.</summary>
    public static IEnumerable<DataRow> MachineRoom(string folder)
    {
        var table = DataTable.Read(Path.Combine(folder, "ambient_temperature_system_failure.csv"));
        var events = DataTable.Read(Path.Combine(folder, "events.csv"));
        var temperature = table["temperature_f"];
        var watch = new LevelWatch(12, table.Rows * 15 / 100, Shift, 730);
        var (found, outside) = (new bool[events.Rows], 0);
        for (var i = 0; i < table.Rows; i++)
        {
            if (!watch.Take(temperature[i]))
                continue;
            var inside = Enumerable.Range(0, events.Rows).Where(e => table.Times[i] >= events["window_start_ms"][e] && table.Times[i] <= events["window_end_ms"][e]).ToList();
            inside.ForEach(e => found[e] = true);
            outside += inside.Count == 0 ? 1 : 0;
        }

        yield return new DataRow(
            "nab", "room temperature, two failures", "generic CUSUM: half-day means, learned from the first 15 %, one false alarm a year; no rule of ours judges the room itself",
            Text($"{found.Count(f => f)} of {events.Rows} found in their windows, {outside} alarms outside"), "the room follows weather and season, which a level detector must call a change");
    }

    /// <summary>Simulated process: a cooling water step, a header pressure loss, and a healthy run.</summary>
    public static IEnumerable<DataRow> Process(string folder)
    {
        string[] channels = ["reactor_temp_c", "xmv10", "ac_feed_kscmh", "xmv4"];
        foreach (var (file, what) in new[] { ("idv00", "healthy"), ("idv04", "cooling water warmer at once"), ("idv07", "header pressure lost") })
        {
            var table = DataTable.Read(Path.Combine(folder, file + ".csv"));
            var label = table["label"];
            var begins = Array.FindIndex(label, l => l == 1);
            var (before, first, firstChannel) = (0, -1, "");
            foreach (var channel in channels)
            {
                var watch = new LevelWatch(1, 140, Shift, 20_000);
                for (var i = 0; i < table.Rows; i++)
                {
                    if (!watch.Take(table[channel][i]))
                        continue;
                    if (begins < 0 || i < begins)
                        before++;
                    else if (first < 0 || i < first)
                        (first, firstChannel) = (i, channel);
                }
            }

            yield return new DataRow(
                "tep_simulated", $"{file}: {what}", "generic CUSUM on reactor temperature, cooling valve, feed and feed valve, learned from 140 samples (7 h)",
                begins < 0 ? Text($"{before} false alarms in {table.Rows - 140} samples on four channels")
                : first < 0 ? Text($"missed; {before} false alarms before") : Text($"found {first - begins + 1} samples after its beginning (3 min each), first by {firstChannel}; {before} false alarms before"),
                "simulated by others");
        }
    }

    /// <summary>A river's yearly flow, with one published fall.</summary>
    public static IEnumerable<DataRow> River(string folder)
    {
        var table = DataTable.Read(Path.Combine(folder, "nile.csv"));
        var watch = new LevelWatch(1, 20, 1.0, 200);
        string? told = null;
        for (var i = 0; i < table.Rows && told is null; i++)
        {
            if (watch.Take(table["flow_1e8m3"][i]))
                told = Text($"told in {Year(i)}, change estimated at {Year(i - (int)watch.BlocksSinceChange + 1)}");
        }

        yield return new DataRow("nile", "one fall of the level", "generic CUSUM, learned from the first 20 years, one false alarm in 200 years", told ?? "missed", "published change: 1898");

        int Year(int row) => DateTimeOffset.FromUnixTimeMilliseconds((long)table.Times[row]).Year;
    }

    private static bool ScorePumpFile(DataTable table, string[] channels, PointScore score)
    {
        const int Learn = 400;
        var watches = channels.Select(_ => new LevelWatch(5, Learn, Shift, 17_280)).ToArray();
        var values = channels.Select(channel => table[channel]).ToArray();
        var label = table["label"];
        var hit = false;
        for (var i = 0; i < table.Rows; i++)
        {
            for (var c = 0; c < watches.Length; c++)
                watches[c].Take(values[c][i]);
            if (i < Learn || double.IsNaN(label[i]))
                continue;
            var alarm = watches.Any(watch => watch.IsInAlarm);
            score.Take(label[i] == 1, alarm);
            hit |= alarm && label[i] == 1;
        }

        return hit;
    }

    private static int Alarms(double[] values, LevelWatch watch) => values.Count(watch.Take);

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
