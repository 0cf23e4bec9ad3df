namespace LaserWatch.Recordings;

/// <summary>A stream whose first bytes have been read already, and are given again.</summary>
internal sealed class StartedStream(ReadOnlyMemory<byte> start, Stream rest) : OneWayStream
{
    private ReadOnlyMemory<byte> _start = start;

    public override int Read(Span<byte> buffer)
    {
        if (_start.IsEmpty)
            return rest.Read(buffer);
        var length = Math.Min(buffer.Length, _start.Length);
        _start.Span[..length].CopyTo(buffer);
        _start = _start[length..];
        return length;
    }
}
