using System.Globalization;
using LaserWatch.Cases;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>What a case's values are called in print.</summary>
internal static class CaseWords
{
    public static string Of(CaseLevel level) => level switch { CaseLevel.Easy => "easy", CaseLevel.Usual => "usual", _ => "hard" };

    public static string Of(CaseOrigin made) => made == CaseOrigin.Simulated ? "simulated" : "recorded";

    public static string Of(Instant at) => at.ToDateTimeOffset().ToString("yyyy-MM-dd HH:mm:ss 'UTC'", CultureInfo.InvariantCulture);
}
