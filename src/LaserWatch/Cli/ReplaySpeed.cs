using System.Globalization;

namespace LaserWatch.Cli;

/// <summary>How fast a recording may be published.</summary>
internal static class ReplaySpeed
{
    public const double Least = 0.1;
    public const double Most = 1000;

    public static readonly string Words = string.Create(CultureInfo.InvariantCulture, $"{Least} to {Most}");
}
