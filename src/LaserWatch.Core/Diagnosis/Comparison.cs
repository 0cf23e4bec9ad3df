using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Diagnosis;

/// <summary>One channel at the last run, beside what it was held against.</summary>
/// <param name="Value">Median in the last run, or the newest value where there was no run.</param>
/// <param name="InRun">The value is of the last run.</param>
/// <param name="Recorded">Recorded for the job; null where nothing was.</param>
/// <param name="Usual">Of earlier runs of the job; null where there were none.</param>
/// <param name="Difference">From what was judged against, in words; empty where there is nothing.</param>
/// <param name="Verdict">Such as <c>as recorded</c>, <c>too low</c>, <c>nothing to compare with</c>.</param>
/// <param name="Stands">The verdict is one to look at.</param>
public sealed record Comparison(
    Channel Channel, double Value, bool InRun, double? Recorded, double? Usual, string Difference, string Verdict, bool Stands);
