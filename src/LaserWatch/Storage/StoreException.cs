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
}
