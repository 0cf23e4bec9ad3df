namespace LaserWatch.Storage;

/// <summary>The store cannot be opened or read; the message is one line that says what, where and the mend.</summary>
public sealed class StoreException : Exception
{
    public StoreException()
    {
    }

    public StoreException(string message) : base(message)
    {
    }

    public StoreException(string message, Exception inner) : base(message, inner)
    {
    }

    /// <summary>True where nothing need be mended: a server is away, and the same may succeed later.</summary>
    public bool MayPass { get; init; }
}
