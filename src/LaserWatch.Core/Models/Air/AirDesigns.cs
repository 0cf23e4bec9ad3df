using System.Collections.Concurrent;
using LaserWatch.Statistics;

namespace LaserWatch.Models;

/// <summary>The CUSUM charts of the air, computed from the wanted time between false alarms; one design for all machines.</summary>
internal static class AirDesigns
{
    /// <summary>Half-minute blocks of a machine-year with a thousand hours of cutting.</summary>
    private const double BlocksInYear = 120_000;

    /// <summary>Settings of a regulator in a machine-year: eight a working day.</summary>
    private const double SettingsInYear = 2_000;

    private static readonly ConcurrentDictionary<(double, double), CusumDesign> Made = new();

    /// <summary>For blocks within a run; two standard deviations of a block at once are to be found soonest.</summary>
    public static CusumDesign WithinRun(double years) => Make(2, years * BlocksInYear);

    /// <summary>For one observation a setting or a run; one and a half standard deviations of it are to be found soonest.</summary>
    public static CusumDesign OverRuns(double years) => Make(1.5, years * SettingsInYear);

    private static CusumDesign Make(double shift, double runLength) =>
        Made.GetOrAdd((shift, runLength), static key => CusumDesign.For(key.Item1, key.Item2, twoSided: true));
}
