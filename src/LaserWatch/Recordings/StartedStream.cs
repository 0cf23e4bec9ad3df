namespace LaserWatch.Recordings;

/// <summary>A stream whose first bytes have been read already, and are given again.</summary>
internal sealed class StartedStream(ReadOnlyMemory<byte> start, Stream rest) : Stream
{
    private ReadOnlyMemory<byte> _start = start;

    public override bool CanRead => true;

    public override bool CanSeek => false;

    public override bool CanWrite => false;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    public override int Read(Span<byte> buffer)
    {
        if (_start.IsEmpty)
            return rest.Read(buffer);
        var length = Math.Min(buffer.Length, _start.Length);
        _start.Span[..length].CopyTo(buffer);
        _start = _start[length..];
        return length;
    }

    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    public override void Flush()
    {
    }

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
}
