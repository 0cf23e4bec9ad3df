namespace LaserWatch.Mqtt;

/// <summary>Room for the payloads that wait to be read: pages, each filled by many messages, and filled anew once all of them were read.</summary>
/// <remarks>
/// A pool of arrays keeps some dozens of a size, and in a burst thousands of messages wait. One thread at a time fills; any thread gives back.
/// </remarks>
internal sealed class PayloadPages
{
    /// <summary>Some thousand bare numbers. A payload of more than a quarter of it gets an array of its own, so that little is left unused.</summary>
    public const int PageBytes = 16 * 1024;

    private const int MostInPage = PageBytes / 4;

    // As much as an inbox full of bare numbers or short JSON takes; what a burst of longer ones took beyond it is let go.
    private const int MostFree = 256;

    private readonly Lock _lock = new();
    private readonly Stack<PayloadPage> _free = new();
    private PayloadPage? _filling;

    /// <returns>The copy, and the page to give back once it was read; null where it has an array of its own.</returns>
    public (ReadOnlyMemory<byte> Payload, PayloadPage? Page) Copy(ReadOnlySpan<byte> payload)
    {
        if (payload.Length > MostInPage)
            return (payload.ToArray(), null);
        if (_filling is null || !_filling.TryCopy(payload, out var copy))
        {
            _filling?.Close();
            _filling = Take();
            _filling.TryCopy(payload, out copy);
        }

        return (copy, _filling);
    }

    internal void Free(PayloadPage page)
    {
        lock (_lock)
        {
            if (_free.Count < MostFree)
                _free.Push(page);
        }
    }

    private PayloadPage Take()
    {
        lock (_lock)
        {
            if (_free.TryPop(out var page))
                return page;
        }

        return new PayloadPage(this);
    }
}

/// <summary>A page of payloads.</summary>
public sealed class PayloadPage
{
    private const int MostCopies = PayloadPages.PageBytes;

    // While it is filled, those that are given back are taken off a number that they cannot use up; so who fills it need not count where all others do.
    private const int Open = MostCopies + 1;

    private readonly PayloadPages _owner;
    private readonly byte[] _bytes = new byte[PayloadPages.PageBytes];
    private int _used;
    private int _copies;
    private int _left = Open;

    internal PayloadPage(PayloadPages owner) => _owner = owner;

    /// <summary>One of its payloads has been read for the last time. Any thread may call it.</summary>
    internal void GiveBack() => TakeOff(1);

    /// <summary>False where there is too little room.</summary>
    internal bool TryCopy(ReadOnlySpan<byte> payload, out ReadOnlyMemory<byte> copy)
    {
        copy = default;
        if (payload.Length > _bytes.Length - _used || _copies == MostCopies)
            return false;
        payload.CopyTo(_bytes.AsSpan(_used));
        copy = _bytes.AsMemory(_used, payload.Length);
        _used += payload.Length;
        _copies++;
        return true;
    }

    /// <summary>No more will be copied into it.</summary>
    internal void Close() => TakeOff(Open - _copies);

    private void TakeOff(int copies)
    {
        if (Interlocked.Add(ref _left, -copies) != 0)
            return;
        (_used, _copies, _left) = (0, 0, Open);
        _owner.Free(this);
    }
}
