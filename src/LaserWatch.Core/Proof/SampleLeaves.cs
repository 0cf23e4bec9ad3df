using System.Buffers.Binary;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>One leaf: the samples of a channel in a minute.</summary>
/// <param name="Minute">Whole minutes since 1970-01-01T00:00Z.</param>
/// <param name="Count">Samples in it, one or more.</param>
public readonly record struct SampleLeaf(long Minute, Channel Channel, int Count, Digest Hash);

/// <summary>Makes the leaves of samples that come in time order: one for each channel of each minute in which it has a sample.</summary>
/// <remarks>
/// <para>Leaves stand by minute, within it by the channel's name (byte by byte). The content of a leaf, which RFC 6962 hashes behind a byte 0:</para>
/// <code>
/// 1 byte      1: samples
/// 1 byte      length of the machine's name, then the name in ASCII
/// 1 byte      length of the channel's name, then the name in ASCII
/// 8 bytes     the minute: whole minutes since 1970-01-01T00:00Z
/// for each sample, in time order:
///   8 bytes   its time: nanoseconds since 1970-01-01T00:00Z
///   8 bytes   its value: IEEE 754 binary64; minus zero as zero
/// </code>
/// <para>All numbers are signed, two's complement, most significant byte first. Hot: 57 million samples are a year of one machine. Allocates
/// nothing per sample. Not safe for several threads.</para>
/// </remarks>
public sealed class SampleLeaves(string machine)
{
    private const long NanosecondsPerMinute = 60_000_000_000;

    private readonly List<SampleLeaf> _leaves = [];
    private readonly List<Collected> _byName = [];
    private readonly Stack<Collected> _spare = [];
    private Collected?[] _byIndex = new Collected?[16];
    private string _machine = machine;
    private long _minute;
    private long _minuteBegin;
    private long _minuteEnd; // with _minuteBegin equal to it: no minute is open

    /// <summary>The leaves of the minutes that are over; after <see cref="Complete"/> of all.</summary>
    public IReadOnlyList<SampleLeaf> Leaves => _leaves;

    /// <summary>Takes a sample; false, and nothing taken, where it lies in a minute before that of the last sample.</summary>
    public bool Add(Channel channel, Instant at, double value)
    {
        var time = at.UnixNanoseconds;
        if (time < _minuteBegin || time >= _minuteEnd)
        {
            if (_minuteEnd > _minuteBegin && time < _minuteBegin)
                return false;
            Complete();
            Open(time);
        }

        var collected = channel.Index < _byIndex.Length ? _byIndex[channel.Index] : null;
        (collected ?? Meet(channel)).Add(time, value);
        return true;
    }

    /// <summary>Closes the minute that is open.</summary>
    public void Complete()
    {
        if (_minuteEnd == _minuteBegin)
            return;
        foreach (var collected in _byName)
        {
            if (collected.Count > 0)
                _leaves.Add(collected.Close(_minute));
        }

        _minuteBegin = _minuteEnd = 0;
    }

    /// <summary>Forgets the leaves, and what was collected of a minute that is open.</summary>
    public void Clear()
    {
        Complete();
        _leaves.Clear();
    }

    /// <summary>The same, and what comes now is another machine's, whose channels may have other indices. The room stays.</summary>
    public void Clear(string machine)
    {
        Clear();
        _machine = machine;
        foreach (var collected in _byName)
            _spare.Push(collected);
        _byName.Clear();
        Array.Clear(_byIndex);
    }

    private void Open(long time)
    {
        _minute = Math.DivRem(time, NanosecondsPerMinute, out var within);
        if (within < 0)
        {
            _minute--;
            within += NanosecondsPerMinute;
        }

        // The first and the last minute that an instant can tell are cut short.
        _minuteBegin = time >= long.MinValue + within ? time - within : long.MinValue;
        _minuteEnd = time <= long.MaxValue - NanosecondsPerMinute ? time - within + NanosecondsPerMinute : long.MaxValue;
    }

    private Collected Meet(Channel channel)
    {
        if (channel.Index >= _byIndex.Length)
            Array.Resize(ref _byIndex, Math.Max(channel.Index + 1, 2 * _byIndex.Length));
        var collected = _spare.TryPop(out var spare) ? spare : new Collected();
        collected.Begin(_machine, channel);
        _byIndex[channel.Index] = collected;
        _byName.Add(collected);
        _byName.Sort((a, b) => string.CompareOrdinal(a.Channel.Name, b.Channel.Name));
        return collected;
    }

    /// <summary>The leaf of a channel while its minute goes on, with the byte 0 before it.</summary>
    private sealed class Collected
    {
        private const int BytesPerSample = 16;

        private byte[] _bytes = new byte[2048];
        private int _minuteAt;
        private int _start;
        private int _length;

        public Channel Channel { get; private set; } = Channel.Canonical[0];

        public int Count => (_length - _start) / BytesPerSample;

        public void Begin(string machine, Channel channel)
        {
            Channel = channel;
            byte[] head = [0, 1, (byte)machine.Length, .. Encoding.ASCII.GetBytes(machine), (byte)channel.Name.Length, .. Encoding.ASCII.GetBytes(channel.Name)];
            _minuteAt = head.Length;
            _start = _length = head.Length + sizeof(long);
            head.CopyTo(_bytes, 0);
        }

        public void Add(long time, double value)
        {
            if (_bytes.Length - _length < BytesPerSample)
                Array.Resize(ref _bytes, 2 * _bytes.Length);
            BinaryPrimitives.WriteInt64BigEndian(_bytes.AsSpan(_length), time);
            BinaryPrimitives.WriteDoubleBigEndian(_bytes.AsSpan(_length + sizeof(long)), value == 0 ? 0 : value);
            _length += BytesPerSample;
        }

        public SampleLeaf Close(long minute)
        {
            BinaryPrimitives.WriteInt64BigEndian(_bytes.AsSpan(_minuteAt), minute);
            var leaf = new SampleLeaf(minute, Channel, Count, Digest.Of(_bytes.AsSpan(0, _length)));
            _length = _start;
            return leaf;
        }
    }
}
