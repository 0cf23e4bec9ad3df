namespace LaserWatch.History;

/// <summary>A block of steady beam at one power, as the tube's rules judged it.</summary>
/// <param name="At">Of its last current, nanoseconds since 1970.</param>
/// <param name="Power">Whole percent.</param>
/// <param name="Milliamps">As measured.</param>
/// <param name="Ratio">Measured over expected, what the coolant does to this machine's current taken off.</param>
/// <param name="Expected">The tube's baseline at that power as it was known then, mA.</param>
/// <param name="ExpectedError">Its relative standard error.</param>
internal readonly record struct TubeBlock(long At, double Power, double Milliamps, double Ratio, double Expected, double ExpectedError)
{
    public const long NanosecondsPerDay = 86_400_000_000_000;

    public long Day => Math.DivRem(At, NanosecondsPerDay, out var rest) - (rest < 0 ? 1 : 0);
}
