namespace LaserWatch.Recordings;

public enum LineOutcome
{
    Line,

    /// <summary>The line was longer than the cap; it has been passed over.</summary>
    TooLong,
    End,
}

/// <summary>Cuts a stream into lines of bytes, in constant memory.</summary>
internal sealed class RecordingLines(Stream stream)
{
    /// <summary>The longest line that is read, 1 MiB.</summary>
    public const int LongestLine = 1 << 20;

    private byte[] _buffer = new byte[1 << 16];
    private int _start;
    private int _end;
    private bool _ended;

    /// <summary>Reads the next line, without its line feed. The line is good until the next call.</summary>
    /// <exception cref="IOException">The stream cannot be read.</exception>
    /// <exception cref="InvalidDataException">The stream's compression is damaged.</exception>
    public LineOutcome Read(out ReadOnlySpan<byte> line)
    {
        var searched = 0;
        var tooLong = false;
        while (true)
        {
            var length = _buffer.AsSpan(_start + searched, _end - _start - searched).IndexOf((byte)'\n');
            if (length >= 0)
            {
                line = _buffer.AsSpan(_start, searched + length);
                _start += searched + length + 1;
                return tooLong || line.Length > LongestLine ? LineOutcome.TooLong : LineOutcome.Line;
            }

            searched = _end - _start;
            if (_ended)
            {
                line = _buffer.AsSpan(_start, searched);
                _start = _end;
                return tooLong || searched > LongestLine ? LineOutcome.TooLong
                    : searched > 0 ? LineOutcome.Line
                    : LineOutcome.End;
            }

            if (searched > LongestLine)
            {
                tooLong = true;
                _start = _end;
                searched = 0;
            }

            Fill();
        }
    }

    private void Fill()
    {
        // What is left goes to the front, so that the next line stands in one piece.
        if (_start > 0)
        {
            _buffer.AsSpan(_start, _end - _start).CopyTo(_buffer);
            _end -= _start;
            _start = 0;
        }

        if (_end == _buffer.Length)
            Array.Resize(ref _buffer, 2 * _buffer.Length);
        var read = stream.Read(_buffer, _end, _buffer.Length - _end);
        _end += read;
        _ended = read == 0;
    }
}
