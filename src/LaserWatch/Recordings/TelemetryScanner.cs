using System.Runtime.InteropServices;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>The swift reading of telemetry lines: no text is made, and nothing is allocated.</summary>
/// <remarks>
/// It takes only lines all of whose parts are plain: measurement and tags byte for byte as on an earlier line that
/// <see cref="LineProtocol"/> read, known field names, plain numbers, a whole time. Anything else it refuses, and the
/// thorough reading decides; that one tells it what it has learned by <see cref="LearnSeries"/>. It expects the fields of a
/// machine's next line to be those of its last, which saves the look-up; where they are not, it looks them up.
/// </remarks>
internal sealed class TelemetryScanner
{
    /// <summary>Spellings of measurement and tags that are remembered, and of field names; a bound against madness.</summary>
    private const int MostRemembered = 20_000;

    private readonly Dictionary<byte[], Series> _series = new(Utf8KeyComparer.Ordinal);
    private readonly Dictionary<byte[], Channel> _channels = new(Utf8KeyComparer.Ordinal);
    private readonly Dictionary<byte[], Series>.AlternateLookup<ReadOnlySpan<byte>> _seriesBySpan;
    private readonly Dictionary<byte[], Channel>.AlternateLookup<ReadOnlySpan<byte>> _channelsBySpan;
    private Series? _last;

    public TelemetryScanner()
    {
        _seriesBySpan = _series.GetAlternateLookup<ReadOnlySpan<byte>>();
        _channelsBySpan = _channels.GetAlternateLookup<ReadOnlySpan<byte>>();
    }

    /// <summary>Reads a line without its line end. Where it returns false, the event's values are not to be used.</summary>
    public bool TryScan(ReadOnlySpan<byte> line, RecordingEvent into)
    {
        var series = _last;
        if (series is null || !line.StartsWith(series.Key))
        {
            var space = line.IndexOf((byte)' ');
            if (space <= 0 || !_seriesBySpan.TryGetValue(line[..(space + 1)], out var found))
                return false;
            _last = series = found;
        }

        var rest = line[series.Key.Length..];
        var fields = CollectionsMarshal.AsSpan(series.Fields);
        for (var place = 0; ; place++)
        {
            Channel? channel;
            if (place < fields.Length && rest.StartsWith(fields[place].Key))
            {
                channel = fields[place].Channel;
                rest = rest[fields[place].Key.Length..];
            }
            else
            {
                var equals = rest.IndexOf((byte)'=');
                if (equals <= 0 || !_channelsBySpan.TryGetValue(rest[..equals], out channel))
                    return false;
                series.Expect(place, rest[..(equals + 1)], channel);
                fields = CollectionsMarshal.AsSpan(series.Fields);
                rest = rest[(equals + 1)..];
            }

            var length = DecimalText.ReadPlain(rest, out var value);
            if (length == 0 || length >= rest.Length)
                return false;
            into.Add(channel, value);
            var next = rest[length];
            rest = rest[(length + 1)..];
            if (next == ' ')
                break;
            if (next != ',')
                return false;
        }

        return TryReadTime(rest, out var nanoseconds) && Tell(into, series.Machine, nanoseconds);
    }

    /// <summary>Remembers how a machine's telemetry lines begin, as a line just read has it.</summary>
    /// <param name="seriesKey">Measurement and tags as written.</param>
    public void LearnSeries(ReadOnlySpan<byte> seriesKey, string machine)
    {
        // An escaped space would end the key early.
        if (_series.Count >= MostRemembered || seriesKey.Contains((byte)'\\'))
            return;
        byte[] key = [.. seriesKey, (byte)' '];
        _series.TryAdd(key, new Series(key, machine));
    }

    public void LearnChannel(Channel channel)
    {
        if (_channels.Count < MostRemembered)
            _channels.TryAdd(Encoding.UTF8.GetBytes(channel.Name), channel);
    }

    private static bool Tell(RecordingEvent into, string machine, long nanoseconds)
    {
        into.Machine = machine;
        into.At = new Instant(nanoseconds);
        return true;
    }

    private static bool TryReadTime(ReadOnlySpan<byte> text, out long nanoseconds)
    {
        nanoseconds = 0;
        // 19 digits, as the times of our century have, fit 64 bits; whether they fit a signed number is seen at the end.
        if (text.Length is 0 or > 19)
            return false;
        var sum = 0UL;
        foreach (var c in text)
        {
            var digit = (uint)(c - '0');
            if (digit > 9)
                return false;
            sum = (sum * 10) + digit;
        }

        nanoseconds = (long)sum;
        return sum <= long.MaxValue;
    }

    /// <summary>One spelling of measurement and tags, with the space after it, and the fields its last line had.</summary>
    private sealed class Series(byte[] key, string machine)
    {
        public byte[] Key { get; } = key;

        public string Machine { get; } = machine;

        /// <summary>Each with its equals sign.</summary>
        public List<(byte[] Key, Channel Channel)> Fields { get; } = [];

        public void Expect(int place, ReadOnlySpan<byte> keyWithEquals, Channel channel)
        {
            // Later lines of another layout must not allocate: the first that had a field at this place is kept.
            if (place == Fields.Count)
                Fields.Add((keyWithEquals.ToArray(), channel));
        }
    }
}
