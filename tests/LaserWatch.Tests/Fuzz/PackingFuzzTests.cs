using LaserWatch.Storage;
using LaserWatch.Storage.Packing;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>Packed blocks of the store whose checksum is right and whose content is not: as if a former program had written them wrongly.</summary>
public class PackingFuzzTests(ITestOutputHelper output)
{
    private const long Key = 17;
    private const long Second = 1_000_000_000;

    [Fact]
    public void Times_and_values_come_back_or_are_said_to_be_damaged() =>
        new Fuzzing(output, [.. Hours()], [], block =>
        {
            Open(block, (ref PackReader from) =>
            {
                var times = new long[PackedTimes.ReadCount(ref from)];
                PackedTimes.Read(ref from, times);
                PackedValues.Read(ref from, new double[times.Length]);
            });
        })
        { Finish = WithItsChecksum, MostMemory = 1L << 30 }.Run(cases: 4_000);

    [Fact]
    public void Minutes_come_back_or_are_said_to_be_damaged() =>
        new Fuzzing(output, [Minutes()], [], block => Open(block, (ref PackReader from) => _ = PackedMinutes.Read(ref from))) { Finish = WithItsChecksum, MostMemory = 4L << 30 }.Run(cases: 7_000);

    [Fact]
    public void A_block_of_any_bytes_is_refused_by_its_checksum() =>
        new Fuzzing(output, [.. Hours().Select(WithItsChecksum)], [], block => Open(block, (ref PackReader _) => { })).Run(cases: 7_000);

    private delegate void Reading(ref PackReader from);

    private static void Open(byte[] block, Reading read)
    {
        try
        {
            var from = ChunkFormat.Open(block, Key);
            read(ref from);
        }
        catch (InvalidDataException damaged)
        {
            Fuzzing.AssertSayable(damaged.Message);
        }
    }

    private static byte[] WithItsChecksum(byte[] body)
    {
        var block = new PackWriter();
        ChunkFormat.Begin(block);
        block.Write(body);
        ChunkFormat.End(block, Key);
        return block.Written.ToArray();
    }

    private static IEnumerable<byte[]> Hours()
    {
        var noise = new Random(1);
        Func<int, long>[] times = [i => i * Second, i => (i * Second) + (noise.Next(-20, 20) * 1_000_000L), i => i * i * 1000L];
        Func<int, double>[] values = [_ => 18.2, i => Math.Round(18 + Math.Sin(i), 2), i => i % 3, i => 1.0 / (i + 1)];
        foreach (var time in times)
        {
            foreach (var value in values)
            {
                var block = new PackWriter();
                PackedTimes.Write(block, [.. Enumerable.Range(0, 120).Select(time)]);
                PackedValues.Write(block, [.. Enumerable.Range(0, 120).Select(value)]);
                yield return block.Written.ToArray();
            }
        }
    }

    private static byte[] Minutes()
    {
        var block = new PackWriter();
        PackedMinutes.Write(block, [.. Enumerable.Range(0, 60).Select(i => (29_000_000L + i, new RollUpSum(60, i, i + 0.5, i + 1)))]);
        return block.Written.ToArray();
    }
}
