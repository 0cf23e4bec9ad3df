using System.Globalization;
using System.Text;

namespace LaserWatch.Benchmarks;

/// <summary>The tables as Markdown.</summary>
public static class DetectorReport
{
    /// <summary>One table after the other, as they are done.</summary>
    public static IEnumerable<string> Tables(Effort effort)
    {
        yield return Delays("Known shift", "CUSUM one-sided: the exact optimum. Two-sided charts: the two-sided CUSUM.", [.. DetectorTable.KnownShift(effort), .. DetectorTable.Ewma(effort)]);
        yield return Delays("Shift of unknown size", "Against the exact optimum for the size known.", DetectorTable.UnknownShift(effort));
        yield return Delays("Ramp", "Against the likelihood-ratio test of the ramp, slope known.", DetectorTable.Ramps(effort));
        yield return Coloured(ColouredTable.Rows(effort));
    }

    private static string Delays(string title, string yardstick, IReadOnlyList<DelayRow> rows)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"### {title}\n\n{yardstick}\n\n");
        text.Append("| detector | ARL0 wanted | ARL0 measured | change | mean delay | yardstick | ratio |\n|---|---:|---:|---:|---:|---:|---:|\n");
        foreach (var row in rows)
            text.Append(CultureInfo.InvariantCulture,
                $"| {row.Detector} | {row.Wanted:0} | {row.InControl.Mean:0} ± {row.InControl.Error:0} | {row.Change} | {row.Delay.Mean:0.00} ± {row.Delay.Error:0.00} | {row.Yardstick:0.00} | {row.Ratio:0.000} |\n");
        foreach (var group in rows.GroupBy(row => row.Detector))
            text.Append(CultureInfo.InvariantCulture, $"\n{group.Key}: mean ratio {group.Average(row => row.Ratio):0.000}, worst {group.Max(row => row.Ratio):0.000}.\n");
        return text.Append('\n').ToString();
    }

    private static string Coloured(IReadOnlyList<ColouredRow> rows)
    {
        var text = new StringBuilder();
        text.Append("### AR(1) noise\n\nTwo-sided charts designed for a shift of 1 σ of the samples. A machine learns its own mean, σ, φ and θ from the stretch given; `fleet` is all samples ");
        text.Append("over all false alarms of 400 machines, `first` the mean time to a machine's first one, `delay` that of the shift from a chart started anew.\n\n");
        text.Append("| detector | φ | white share | learned from | ARL0 wanted | fleet | ratio | first | delay |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|\n");
        foreach (var row in rows)
            text.Append(CultureInfo.InvariantCulture,
                $"| {row.Detector} | {row.Phi} | {row.White} | {(row.Learned > 0 ? row.Learned.ToString(CultureInfo.InvariantCulture) : "–")} | {row.Wanted:0} | {row.Fleet:0} | {row.Ratio:0.00} | {row.First:0} | {row.Delay.Mean:0.0} ± {row.Delay.Error:0.0} |\n");
        return text.Append('\n').ToString();
    }
}
