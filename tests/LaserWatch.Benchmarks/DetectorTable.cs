using LaserWatch.Statistics;

namespace LaserWatch.Benchmarks;

/// <summary>How much to simulate: 1 is the committed report, less is for tests.</summary>
public sealed record Effort(double Runs)
{
    public int Of(int runs) => Math.Max(50, (int)(runs * Runs));
}

/// <summary>One line of the table of delays.</summary>
public sealed record DelayRow(string Detector, double Wanted, Estimate InControl, string Change, Estimate Delay, double Yardstick)
{
    public double Ratio => Delay.Mean / Yardstick;
}

/// <summary>Delays of the charts of independent samples against the yardsticks, all from a fresh start.</summary>
public static class DetectorTable
{
    private const int Seed = 20_261_125;

    public static IReadOnlyList<DelayRow> KnownShift(Effort effort) => Rows(
        [.. Published.KnownShift.Select(row => new Case("CUSUM, one-sided", row.RunLength, Shift(row.Shift), _ => row.Shift,
            () => Chart.Of(new Cusum(CusumDesign.For(row.Shift, row.RunLength, twoSided: false))), row.Delay)),
        .. Published.TwoSidedCusum.Select(row => new Case("CUSUM, two-sided", row.RunLength, Shift(row.Shift), _ => row.Shift,
            () => Chart.Of(new Cusum(CusumDesign.For(row.Shift, row.RunLength))), row.Delay))], effort, perShift: true);

    public static IReadOnlyList<DelayRow> Ewma(Effort effort) => Rows(
        [.. Published.TwoSidedCusum.Select(row => new Case("EWMA, two-sided, best λ", row.RunLength, Shift(row.Shift), _ => row.Shift,
            () => Chart.Of(new Statistics.Ewma(EwmaDesign.ForShift(row.Shift, row.RunLength))), row.Delay))], effort, perShift: true);

    public static IReadOnlyList<DelayRow> UnknownShift(Effort effort)
    {
        var banks = Published.KnownShift.Select(row => row.RunLength).Distinct()
            .ToDictionary(runLength => runLength, runLength => CusumBankDesign.For(0.5, 3, runLength, twoSided: false));
        return Rows(
            [.. Published.KnownShift.Select(row => new Case("CUSUM bank 0.5–3 σ, one-sided", row.RunLength, Shift(row.Shift), _ => row.Shift,
                () => Chart.Of(new CusumBank(banks[row.RunLength])), row.Delay)),
            .. Published.KnownShift.Select(row => new Case("GLR from 0.5 σ, one-sided", row.RunLength, Shift(row.Shift), _ => row.Shift,
                () => Chart.Of(new ShiftGlr(ShiftGlrDesign.For(0.5, row.RunLength, twoSided: false))), row.Delay))], effort, perShift: false);
    }

    public static IReadOnlyList<DelayRow> Ramps(Effort effort) => Rows(
        [.. Published.RampTest.Select(row => new Case("CUSUM for the ramp, one-sided", row.RunLength, FormattableString.Invariant($"{row.Slope} σ/sample"), n => row.Slope * n,
            () => Chart.Of(new Cusum(CusumDesign.ForRamp(row.Slope, row.RunLength, twoSided: false))), row.Delay))], effort, perShift: true);

    private sealed record Case(string Detector, double Wanted, string Change, Func<int, double> MeanAt, Func<Chart> Make, double Yardstick);

    /// <param name="perShift">Whether the chart differs from row to row, so that each needs its own run length in control.</param>
    private static DelayRow[] Rows(Case[] cases, Effort effort, bool perShift)
    {
        var charts = (perShift ? cases : cases.DistinctBy(one => (one.Detector, one.Wanted)))
            .AsParallel().AsOrdered()
            .ToDictionary(one => one, one => RunLengths.Measure(one.Make(), 0, effort.Of(RunsInControl(one, perShift)), Seed));
        return [.. cases.AsParallel().AsOrdered().Select(one =>
        {
            var inControl = charts.First(pair => pair.Key == one || (!perShift && pair.Key.Detector == one.Detector && pair.Key.Wanted == one.Wanted)).Value;
            return new DelayRow(one.Detector, one.Wanted, inControl, one.Change, RunLengths.Measure(one.Make(), one.MeanAt, effort.Of(40_000), Seed + 1), one.Yardstick);
        })];
    }

    private static int RunsInControl(Case one, bool perShift) => (int)(Math.Min(20_000, (perShift ? 1e7 : 4e7) / one.Wanted) / (one.Detector.StartsWith("GLR", StringComparison.Ordinal) ? 4 : 1));

    private static string Shift(double shift) => FormattableString.Invariant($"{shift} σ");
}
