using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Looks at a line as it is read, before events are put in time order.</summary>
internal delegate void LineSeen(ReadOnlySpan<byte> line, long number, ParsedLine? parsed);

/// <summary>Reads a recording, plain or gzip, event by event and in time order, in constant memory.</summary>
/// <remarks>
/// Lines up to <see cref="Window"/> out of order are put right; later ones are passed on as they come. A line that cannot be
/// read is counted in <see cref="Counts"/> and skipped. Not safe for several threads.
/// </remarks>
public sealed class RecordingReader : IDisposable
{
    public static readonly TimeSpan Window = TimeSpan.FromSeconds(5);

    /// <summary>The first line of a recording of training data.</summary>
    internal static ReadOnlySpan<byte> TrainingMark => "# laserwatch-training: these data were replayed or made up, and are of no real machine\n"u8;

    private static ReadOnlySpan<byte> TrainingWord => "# laserwatch-training"u8;

    /// <summary>The line is a comment that says the recording is of training data.</summary>
    internal static bool IsTrainingMark(ReadOnlySpan<byte> line) => line.StartsWith(TrainingWord);

    private readonly Stream _source;
    private readonly Stream _plain;
    private readonly RecordingLines _lines;
    private readonly ChannelTable _channels;
    private readonly TelemetryScanner _scanner = new();
    private readonly TimeOrder _order = new(Window);
    private readonly ParsedLine _parsed = new();
    private readonly Stack<RecordingEvent> _spare = new();
    private RecordingEvent? _handedOut;
    private bool _started;
    private bool _atEnd;

    /// <param name="source">The recording; closed with the reader.</param>
    /// <exception cref="IOException">The stream cannot be read.</exception>
    public RecordingReader(Stream source, ChannelTable channels)
    {
        _source = source;
        _channels = channels;
        Length = source.CanSeek ? source.Length : null;
        _plain = Unzipped(source);
        _lines = new RecordingLines(_plain);
    }

    /// <exception cref="IOException">The file cannot be opened or read.</exception>
    /// <exception cref="UnauthorizedAccessException">The file may not be read.</exception>
    public static RecordingReader Open(string path, ChannelTable channels)
    {
        var file = new FileStream(path, new FileStreamOptions { Mode = FileMode.Open, Access = FileAccess.Read, Share = FileShare.ReadWrite | FileShare.Delete, BufferSize = 1 << 16, Options = FileOptions.SequentialScan });
        try
        {
            return new RecordingReader(file, channels);
        }
        catch
        {
            file.Dispose();
            throw;
        }
    }

    public RecordingCounts Counts { get; } = new();

    /// <summary>Is shown every comment, with nothing parsed, and every line that was read thoroughly: all events, and telemetry of a spelling not met before.</summary>
    internal LineSeen? Seen { get; init; }

    /// <summary>The size of the source in bytes, as it lies on the disk; null where it cannot be known.</summary>
    public long? Length { get; }

    /// <summary>How far the source has been read, in bytes; 0 where that cannot be known.</summary>
    public long Position => Length is null ? 0 : _source.Position;

    /// <summary>The recording says of itself, as far as it has been read, that it is of training data.</summary>
    public bool IsTraining { get; private set; }

    /// <summary>Reads as far as the first line that says something, which no event is lost by; what a recording says of itself stands before.</summary>
    /// <exception cref="IOException">The source cannot be read.</exception>
    /// <exception cref="InvalidDataException">The source's compression is damaged.</exception>
    public void ReadHead()
    {
        while (!_atEnd && _order.IsEmpty)
            ReadLine();
    }

    /// <summary>The next event; null at the end. It is good until the next call.</summary>
    /// <exception cref="IOException">The source cannot be read on.</exception>
    /// <exception cref="InvalidDataException">The source's compression is damaged, or it breaks off.</exception>
    public RecordingEvent? Read()
    {
        if (_handedOut is { } used)
        {
            used.Clear();
            _spare.Push(used);
            _handedOut = null;
        }

        while (true)
        {
            if (_order.Take(_atEnd) is { } next)
                return _handedOut = next;
            if (_atEnd)
                return null;
            ReadLine();
        }
    }

    public void Dispose()
    {
        _plain.Dispose();
        _source.Dispose();
    }

    private void ReadLine()
    {
        var outcome = _lines.Read(out var line);
        if (outcome == LineOutcome.End)
        {
            _atEnd = true;
            return;
        }

        Counts.Lines++;
        if (outcome == LineOutcome.TooLong)
        {
            Counts.CountUnread(Counts.Lines, $"is longer than {RecordingLines.LongestLine >> 20} MiB");
            return;
        }

        if (!_started)
        {
            _started = true;
            if (line.StartsWith("\uFEFF"u8)) // a byte order mark, as some editors leave
                line = line["\uFEFF"u8.Length..];
        }

        if (line.EndsWith("\r"u8))
            line = line[..^1];

        var e = _spare.Count > 0 ? _spare.Pop() : new RecordingEvent();
        e.Line = Counts.Lines;
        if (_scanner.TryScan(line, e))
        {
            Counts.TelemetryLines++;
            Counts.Samples += e.Values.Length;
            Queue(e);
            return;
        }

        e.ForgetValues();
        if (LineProtocol.IsBlankOrComment(line))
        {
            IsTraining |= IsTrainingMark(line);
            Seen?.Invoke(line, Counts.Lines, null);
            _spare.Push(e);
        }
        else if (!TryReadThoroughly(line, e, out var mistake))
        {
            if (mistake is not null)
                Counts.CountUnread(Counts.Lines, mistake);
            e.Clear();
            _spare.Push(e);
        }
        else
        {
            Seen?.Invoke(line, Counts.Lines, _parsed);
            Queue(e);
        }
    }

    private void Queue(RecordingEvent e)
    {
        _order.Add(e);
        Counts.OutOfOrder = _order.OutOfOrder;
    }

    /// <summary>False without a mistake where the line can be read but says nothing that is played.</summary>
    private bool TryReadThoroughly(ReadOnlySpan<byte> line, RecordingEvent e, out string? mistake)
    {
        if (!LineProtocol.TryParse(line, _parsed, out mistake))
            return false;
        e.At = _parsed.Time;
        switch (_parsed.Measurement)
        {
            case EventLines.Telemetry:
                return TryReadTelemetry(line, e, out mistake);

            case EventLines.JobRecordName:
                if (!EventLines.TryRead(_parsed, out Jobs.JobRecord? record, out mistake))
                    return false;
                Counts.JobRecords++;
                e.Kind = RecordingEventKind.JobRecord;
                e.JobRecord = record;
                return true;

            case EventLines.JobRunName:
                if (!EventLines.TryRead(_parsed, out Jobs.JobEvent? run, out mistake))
                    return false;
                Counts.JobRuns++;
                e.Kind = RecordingEventKind.JobRun;
                e.Machine = run!.Machine;
                e.JobRun = run;
                return true;

            case EventLines.ServiceName:
                if (!EventLines.TryRead(_parsed, out ServiceEvent? service, out mistake))
                    return false;
                Counts.ServiceEvents++;
                e.Kind = RecordingEventKind.Service;
                e.Machine = service!.Machine;
                e.Service = service;
                return true;

            case EventLines.AlarmName:
                if (!EventLines.TryRead(_parsed, out Alarms.AlarmChange? alarm, out mistake))
                    return false;
                Counts.AlarmLines++;
                e.Kind = RecordingEventKind.Alarm;
                e.Machine = alarm!.Machine;
                e.Alarm = alarm;
                return true;

            default:
                Counts.UnknownMeasurements++;
                return false;
        }
    }

    private bool TryReadTelemetry(ReadOnlySpan<byte> line, RecordingEvent e, out string? mistake)
    {
        mistake = EventLines.MachineMistake(_parsed);
        if (mistake is not null)
            return false;
        e.Machine = _parsed.Tag("machine")!;
        _scanner.LearnSeries(line[..Math.Min(_parsed.SeriesKeyLength, line.Length)], e.Machine);
        foreach (var field in _parsed.Fields)
        {
            if (!_channels.TryGet(field.Key, out var channel))
            {
                Counts.UnknownChannels++;
                continue;
            }

            // Stores that know truth values may give the beam as one; on any other channel it is not a measurement.
            if (field.Kind is FieldKind.Number or FieldKind.Whole
                || (field.Kind == FieldKind.Truth && channel == Channel.Lasing))
            {
                e.Add(channel, field.Number);
                _scanner.LearnChannel(channel);
            }
            else
            {
                Counts.NotNumbers++;
            }
        }

        Counts.TelemetryLines++;
        Counts.Samples += e.Values.Length;
        return e.Values.Length > 0;
    }

    /// <summary>The stream itself, or what is packed in it by gzip.</summary>
    internal static Stream Unzipped(Stream source)
    {
        var start = new byte[2];
        var length = source.ReadAtLeast(start, start.Length, throwOnEndOfStream: false);
        Stream whole = new StartedStream(start.AsMemory(0, length), source);
        return length == 2 && start[0] == 0x1f && start[1] == 0x8b ? new GunzippedStream(whole) : whole;
    }
}
