namespace LaserWatch.Alarms;

/// <summary>How long to wait after a failed delivery: doubling from the first wait up to the longest.</summary>
/// <param name="Attempts">Deliveries tried before it is given up; null: never given up.</param>
public sealed record RetryPolicy(TimeSpan First, TimeSpan Longest, int? Attempts = null)
{
    /// <summary>For what must not be lost: a state that everybody who looks relies on.</summary>
    public static readonly RetryPolicy Forever = new(TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(10));

    /// <summary>The wait before the next attempt; null: give up.</summary>
    /// <param name="failures">Failed attempts so far, at least one.</param>
    public TimeSpan? Wait(int failures)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(failures, 1);
        if (failures >= Attempts)
            return null;
        return TimeSpan.FromSeconds(Math.Min(First.TotalSeconds * Math.Pow(2, Math.Min(failures - 1, 30)), Longest.TotalSeconds));
    }
}
