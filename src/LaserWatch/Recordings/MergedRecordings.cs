using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Several recordings as one, in time order: machines side by side, or months one after the other.</summary>
/// <remarks>The readers stay their owner's. Not safe for several threads.</remarks>
public sealed class MergedRecordings(IReadOnlyList<RecordingReader> readers)
{
    private readonly RecordingEvent?[] _next = new RecordingEvent?[readers.Count];
    private int _handedOut = -1;
    private bool _started;

    /// <summary>The next event of all; null at the end of the last. It is good until the next call.</summary>
    /// <exception cref="IOException">A recording cannot be read on.</exception>
    /// <exception cref="InvalidDataException">A recording's compression is damaged, or it breaks off.</exception>
    public RecordingEvent? Read()
    {
        if (!_started)
        {
            _started = true;
            for (var i = 0; i < _next.Length; i++)
                _next[i] = readers[i].Read();
        }
        else if (_handedOut >= 0)
        {
            _next[_handedOut] = readers[_handedOut].Read();
        }

        _handedOut = -1;
        for (var i = 0; i < _next.Length; i++)
        {
            if (_next[i] is { } e && (_handedOut < 0 || e.At < _next[_handedOut]!.At))
                _handedOut = i;
        }

        return _handedOut < 0 ? null : _next[_handedOut];
    }
}
