namespace LaserWatch.Recordings;

/// <summary>The keys 1 to 9 of a replay and of a practice: each is a pace, from real time to a thousand times it.</summary>
internal static class PaceKeys
{
    private static readonly double[] Paces = [1, 2, 5, 10, 20, 50, 100, 300, 1000];

    /// <summary>How many times as fast as it happened; null for any other key.</summary>
    public static double? Of(char key) => key is >= '1' and <= '9' ? Paces[key - '1'] : null;
}
