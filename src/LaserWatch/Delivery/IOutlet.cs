namespace LaserWatch.Delivery;

/// <summary>A way to somebody: a webhook, a mailbox, a hook.</summary>
public interface IOutlet
{
    string Name { get; }

    /// <summary>Tries to deliver once; never throws but when it is told to stop.</summary>
    Task<OutletAnswer> SendAsync(AlarmMessage message, CancellationToken stop);
}

/// <summary>What came of an attempt.</summary>
/// <param name="Why">In words, without a secret; empty where it was delivered to all.</param>
/// <param name="NotBefore">How long the other side asks to be left alone; null: it says nothing.</param>
public readonly record struct OutletAnswer(OutletOutcome Outcome, string Why, TimeSpan? NotBefore = null)
{
    public static readonly OutletAnswer Delivered = new(OutletOutcome.Delivered, "");

    public static OutletAnswer Later(string why, TimeSpan? notBefore = null) => new(OutletOutcome.Later, why, notBefore);

    public static OutletAnswer Refused(string why) => new(OutletOutcome.Refused, why);
}

public enum OutletOutcome
{
    Delivered,

    /// <summary>Not now; it is tried again.</summary>
    Later,

    /// <summary>Not this one, however often it is tried.</summary>
    Refused,
}
