namespace LaserWatch.Mqtt;

/// <summary>How long to wait before the next attempt to connect: doubling, bounded, with jitter.</summary>
/// <remarks>
/// Jitter keeps a shop's clients from storming a broker that has just come back. A connection that did not last counts as a
/// failure, or two clients of the same name would throw each other out as fast as they can.
/// </remarks>
/// <param name="jitter">Seeded by the caller, differently for each client. Used by one thread at a time.</param>
public sealed class ReconnectPolicy(Random jitter)
{
    /// <summary>The longest wait before the second attempt.</summary>
    public static readonly TimeSpan First = TimeSpan.FromMilliseconds(500);

    /// <summary>The longest wait of all.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromSeconds(30);

    /// <summary>A connection that lasted this long was a success.</summary>
    public static readonly TimeSpan Lasting = TimeSpan.FromSeconds(10);

    /// <summary>The wait after so many failures in a row: between half of the doubled wait and the whole of it.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Fewer than one failure.</exception>
    public TimeSpan Wait(int failures)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(failures, 1);
        var whole = Math.Min(First.TotalSeconds * Math.Pow(2, Math.Min(failures - 1, 30)), Longest.TotalSeconds);
        return TimeSpan.FromSeconds(whole * (0.5 + (0.5 * jitter.NextDouble())));
    }

    /// <summary>Failures in a row after a connection that came about and broke.</summary>
    public static int AfterConnection(int failures, TimeSpan lasted) => lasted >= Lasting ? 1 : failures + 1;
}
