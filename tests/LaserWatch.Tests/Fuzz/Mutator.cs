using System.Buffers.Binary;
using System.Text;

namespace LaserWatch.Fuzz;

/// <summary>Makes bad input from good: each case from its own number, so that any can be made again.</summary>
/// <param name="seeds">Good input.</param>
/// <param name="words">Text that the format gives a meaning to, put in where it does not belong.</param>
internal sealed class Mutator(IReadOnlyList<byte[]> seeds, IEnumerable<string> words)
{
    private const int MostBytes = 1 << 20;

    /// <summary>Numbers at the edges of what types hold.</summary>
    private static readonly string[] Edges =
    [
        "0", "-0", "-1", "1e999", "-1e999", "1e-999", "NaN", "2147483648", "-2147483649", "9223372036854775807", "-9223372036854775808",
        "18446744073709551616", "0.1e1", "00", "1.", "253402300800", "99999999999999999999999999999999999999",
    ];

    private static readonly long[] WholeEdges = [0, 1, -1, int.MaxValue, int.MinValue, long.MaxValue, long.MinValue, uint.MaxValue, 1L << 40];

    private readonly byte[][] _words =
    [
        .. words.Concat(["{", "}", "[", "]", "\"", ",", ":", "\\", "\\u0000", "\\ud800", "\u001b[31m", "\n", "\r\n", "\0", "\u2028", "\u0085", "null", "true", "\uFEFF"])
            .Select(Encoding.UTF8.GetBytes),
    ];

    public byte[] Make(int seed, int number)
    {
        var random = new Random(unchecked((seed * 1_000_003) + number));
        var bytes = new List<byte>(seeds[random.Next(seeds.Count)]);
        do
        {
            Change(bytes, random);
        }
        while (random.Next(4) != 0);

        if (bytes.Count > MostBytes)
            bytes.RemoveRange(MostBytes, bytes.Count - MostBytes);
        return [.. bytes];
    }

    private void Change(List<byte> bytes, Random random)
    {
        var at = random.Next(bytes.Count + 1);
        var length = Math.Min(bytes.Count - at, random.Next(1, random.Next(4) == 0 ? 64 : 6));
        switch (random.Next(11))
        {
            case 0 when length > 0:
                bytes[at] ^= (byte)(1 << random.Next(8));
                break;
            case 1 when length > 0:
                bytes[at] = (byte)random.Next(256);
                break;
            case 2:
                bytes.InsertRange(at, Enumerable.Range(0, random.Next(1, 9)).Select(_ => (byte)random.Next(256)));
                break;
            case 3:
                bytes.RemoveRange(at, length);
                break;
            case 4:
                bytes.InsertRange(random.Next(bytes.Count + 1), bytes.GetRange(at, length));
                break;
            case 5:
                bytes.InsertRange(at, _words[random.Next(_words.Length)]);
                break;
            case 6:
                ReplaceNumber(bytes, at, random);
                break;
            case 7 when random.Next(4) == 0:
                bytes.RemoveRange(at, bytes.Count - at);
                break;
            case 8:
                var other = seeds[random.Next(seeds.Count)];
                var from = random.Next(other.Length + 1);
                bytes.InsertRange(at, other.Skip(from).Take(random.Next(200)));
                break;
            case 9:
                var part = random.Next(3) == 0 ? _words[random.Next(_words.Length)] : [.. bytes.GetRange(at, length)];
                for (var times = random.Next(1, random.Next(3) == 0 ? 300 : 10); times > 0; times--)
                    bytes.InsertRange(at, part);
                break;
            default:
                WriteEdge(bytes, at, random);
                break;
        }
    }

    /// <summary>Another number in place of the next one in a text.</summary>
    private static void ReplaceNumber(List<byte> bytes, int at, Random random)
    {
        var start = bytes.FindIndex(at, b => b is >= (byte)'0' and <= (byte)'9');
        if (start < 0)
            return;
        var end = start;
        while (end < bytes.Count && bytes[end] is (>= (byte)'0' and <= (byte)'9') or (byte)'.')
            end++;
        bytes.RemoveRange(start, end - start);
        bytes.InsertRange(start, Encoding.ASCII.GetBytes(Edges[random.Next(Edges.Length)]));
    }

    /// <summary>A number of an edge as bytes, over what stands there.</summary>
    private static void WriteEdge(List<byte> bytes, int at, Random random)
    {
        Span<byte> number = stackalloc byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(number, random.Next(2) == 0 ? WholeEdges[random.Next(WholeEdges.Length)] : random.Next(-5, 300));
        var width = random.Next(2) == 0 ? 4 : 8;
        for (var i = 0; i < width && at + i < bytes.Count; i++)
            bytes[at + i] = number[i];
    }
}
