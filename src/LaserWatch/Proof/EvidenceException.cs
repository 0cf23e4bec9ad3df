namespace LaserWatch.Proof;

/// <summary>A log, a key or a proof cannot be read or written; the message is one line that says what, where and the mend.</summary>
public sealed class EvidenceException : Exception
{
    public EvidenceException()
    {
    }

    public EvidenceException(string message) : base(message)
    {
    }

    public EvidenceException(string message, Exception inner) : base(message, inner)
    {
    }
}
