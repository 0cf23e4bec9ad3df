using System.Buffers.Binary;
using System.IO.Compression;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>A sample leaf as the list has it.</summary>
internal readonly record struct ListedSamples(long Minute, string Channel, int Count, long HashStart);

/// <summary>An event leaf as the list has it.</summary>
internal readonly record struct ListedEvent(Instant At, long HashStart);

/// <summary>The leaves of a day that stand in a recording, with the start of each one's hash: enough to say which differs, not to prove it.</summary>
/// <remarks>
/// Packed by zlib: column after column, numbers with the most significant byte first. Of the sample leaves: the minute of the day (2 bytes), the
/// channel's place in the counts of the day's entry (2), the number of samples (2, at most 65535), the first 6 bytes of the hash. Of the event
/// leaves and then of the record leaves: nanoseconds since the day began (8), the first 6 bytes of the hash.
/// </remarks>
internal sealed class LeafList
{
    private const int HashBytes = 6;

    public List<ListedSamples> Samples { get; } = [];

    public List<ListedEvent> Events { get; } = [];

    public List<ListedEvent> Records { get; } = [];

    public static long HashStart(Digest hash)
    {
        Span<byte> bytes = stackalloc byte[Digest.Length];
        hash.CopyTo(bytes);
        return BinaryPrimitives.ReadInt64BigEndian(bytes) >>> 16;
    }

    public static int CountOf(int samples) => Math.Min(samples, ushort.MaxValue);

    public byte[] Pack(DayEntry entry)
    {
        var channels = entry.Samples.Counts.Keys.ToList();
        var start = UtcDay.Start(entry.Day).UnixNanoseconds;
        using var packed = new MemoryStream();
        using (var zlib = new ZLibStream(packed, CompressionLevel.Optimal, leaveOpen: true))
        {
            Column(zlib, Samples, 2, leaf => UtcDay.MinuteOfDay(leaf.Minute));
            Column(zlib, Samples, 2, leaf => (ushort)channels.IndexOf(leaf.Channel));
            Column(zlib, Samples, 2, leaf => leaf.Count);
            Column(zlib, Samples, HashBytes, leaf => leaf.HashStart);
            foreach (var list in (List<ListedEvent>[])[Events, Records])
            {
                Column(zlib, list, 8, leaf => leaf.At.UnixNanoseconds - start);
                Column(zlib, list, HashBytes, leaf => leaf.HashStart);
            }
        }

        return packed.ToArray();
    }

    /// <summary>Null where the bytes are no list of that many leaves, in order.</summary>
    public static LeafList? Unpack(byte[] packed, DayEntry entry, int samples, int events, int records)
    {
        var length = (samples * (6L + HashBytes)) + ((events + records) * (8L + HashBytes));
        var bytes = Unzip(packed, length);
        if (bytes is null)
            return null;
        var channels = entry.Samples.Counts.Keys.ToList();
        var start = UtcDay.Start(entry.Day);
        var firstMinute = (long)Math.Floor(start.UnixNanoseconds / 60e9);
        var list = new LeafList();
        var at = 0;
        var (minutes, places, counts, hashes) = (Column(samples, 2), Column(samples, 2), Column(samples, 2), Column(samples, HashBytes));
        for (var i = 0; i < samples; i++)
        {
            var place = (int)Number(bytes, places, i, 2);
            list.Samples.Add(new ListedSamples(
                firstMinute + Number(bytes, minutes, i, 2), place < channels.Count ? channels[place] : "?", (int)Number(bytes, counts, i, 2),
                Number(bytes, hashes, i, HashBytes)));
        }

        foreach (var (into, count) in ((List<ListedEvent>, int)[])[(list.Events, events), (list.Records, records)])
        {
            var (times, starts) = (Column(count, 8), Column(count, HashBytes));
            for (var i = 0; i < count; i++)
                into.Add(new ListedEvent(new Instant(start.UnixNanoseconds + Number(bytes, times, i, 8)), Number(bytes, starts, i, HashBytes)));
        }

        return list.IsInOrder() ? list : null;

        int Column(int rows, int width)
        {
            var begin = at;
            at += rows * width;
            return begin;
        }
    }

    private bool IsInOrder()
    {
        for (var i = 1; i < Samples.Count; i++)
        {
            var (a, b) = (Samples[i - 1], Samples[i]);
            if (a.Minute > b.Minute || (a.Minute == b.Minute && string.CompareOrdinal(a.Channel, b.Channel) >= 0))
                return false;
        }

        return true;
    }

    private static long Number(byte[] bytes, int column, int row, int width)
    {
        var number = 0L;
        foreach (var b in bytes.AsSpan(column + (row * width), width))
            number = (number << 8) | b;
        return number;
    }

    private static void Column<T>(Stream into, List<T> rows, int width, Func<T, long> value)
    {
        Span<byte> number = stackalloc byte[8];
        foreach (var row in rows)
        {
            BinaryPrimitives.WriteInt64BigEndian(number, value(row));
            into.Write(number[(8 - width)..]);
        }
    }

    private static byte[]? Unzip(byte[] packed, long length)
    {
        if (length > 1 << 28)
            return null;
        try
        {
            using var zlib = new ZLibStream(new MemoryStream(packed), CompressionMode.Decompress);
            var bytes = new byte[length];
            return zlib.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false) == length && zlib.ReadByte() < 0 ? bytes : null;
        }
        catch (InvalidDataException)
        {
            return null;
        }
    }
}
