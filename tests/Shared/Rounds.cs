using System.Globalization;

namespace LaserWatch;

/// <summary>How often tests by random cases try. The numbers in the tests are those of an ordinary run.</summary>
internal static class Rounds
{
    /// <summary>Set to 10, ten times as many are tried.</summary>
    public const string Setting = "LASERWATCH_TEST_ROUNDS";

    private static readonly double Times =
        Environment.GetEnvironmentVariable(Setting) is { Length: > 0 } text ? double.Parse(text, CultureInfo.InvariantCulture) : 1;

    public static int Of(int ordinary) => Math.Max(1, (int)(ordinary * Times));
}
