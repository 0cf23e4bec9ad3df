using CsCheck;

namespace LaserWatch.Storage.Packing;

public class PackingTests
{
    private const long Second = 1_000_000_000;

    [Fact]
    public void Any_integers_come_back()
    {
        var wild = Gen.OneOf(Gen.Long, Gen.Long[-3, 3], Gen.OneOf(Gen.Const(long.MinValue), Gen.Const(long.MaxValue)));
        Gen.OneOf(wild.Array[0, 300], Gen.Long[-200, 200].Array[0, 3000], Gen.Const(7L).Array[0, 40]).Sample(values =>
        {
            var block = new PackWriter();
            PackedIntegers.Write(block, values);
            var read = new long[values.Length];
            var from = new PackReader(block.Written);
            PackedIntegers.Read(ref from, read);
            Assert.Equal(values, read);
        });
    }

    [Fact]
    public void Any_finite_numbers_come_back_to_the_bit()
    {
        var finite = Gen.Double.Where(double.IsFinite);
        var some = Gen.OneOf(
            finite.Array[0, 200], Gen.Int[-5000, 5000].Select(i => i / 100.0).Array[0, 500], Gen.Int[0, 30].Select(i => i * 0.0317).Array[0, 500],
            Gen.OneOf(Gen.Const(-0.0), Gen.Const(0.0), Gen.Const(double.Epsilon), Gen.Const(double.MaxValue)).Array[0, 100],
            Gen.Long[-9_007_199_254_740_993, 9_007_199_254_740_993].Select(i => (double)i).Array[0, 50]);
        some.Sample(values => AssertValues(values, _ => { }));
    }

    [Fact]
    public void Any_ascending_times_come_back()
    {
        var steps = Gen.OneOf(Gen.Const(Second).Array[0, 500], Gen.Long[1, 60 * Second].Array[0, 100], Gen.Long[990, 1010].Select(ms => ms * 1_000_000).Array[0, 500], Gen.Long[1, 3].Array[0, 50]);
        var begin = Gen.OneOf(Gen.Long[-5 * Second, 5 * Second], Gen.Long[-9_000_000, 9_000_000].Select(s => s * Second), Gen.Const(long.MinValue));
        Gen.Select(begin, steps).Sample((first, gaps) =>
        {
            var times = new long[gaps.Length + 1];
            times[0] = first;
            for (var i = 0; i < gaps.Length; i++)
                times[i + 1] = times[i] + gaps[i];
            Assert.Equal(times, Read(times, out _));
        });
    }

    [Fact]
    public void A_steady_clock_takes_a_few_bytes_and_one_with_jitter_little_more_than_its_noise()
    {
        var steady = Enumerable.Range(0, 3600).Select(i => 1773041400 * Second + (i * Second)).ToArray();
        Assert.Equal(steady, Read(steady, out var bytes));
        Assert.InRange(bytes, 1, 20);

        // Uniform over 8 ms is 3 bits.
        var random = new Random(1);
        var jittered = steady.Select(at => at + (random.Next(8) * 1_000_000L)).ToArray();
        Assert.Equal(jittered, Read(jittered, out bytes));
        Assert.InRange(bytes / 3600.0, 0.3, 0.5);
    }

    [Fact]
    public void Decimals_take_little_more_than_their_noise_and_calibrated_ones_as_their_few_steps()
    {
        var random = new Random(1);
        var steps = Enumerable.Range(0, 3600).Select(_ => random.Next(16)).ToArray(); // 4 bits

        AssertValues([.. steps.Select(step => (3280 + step) * 0.0625)], block => Assert.InRange(block.Length / 3600.0, 0.45, 0.6));
        AssertValues([.. steps.Select(step => (double)((3280 + step) * 0.2m))], block => Assert.InRange(block.Length / 3600.0, 0.45, 0.6));
        AssertValues([.. steps.Select(step => ((3280 + step) * 0.0317291) + 1.77)], block => Assert.InRange(block.Length / 3600.0, 0.45, 0.65));
        AssertValues([.. steps.Select(step => step < 8 ? 0.0 : 1.0)], block => Assert.InRange(block.Length / 3600.0, 0.1, 0.2));
        AssertValues([.. steps.Select(_ => 66.0)], block => Assert.InRange(block.Length, 1, 12));
    }

    [Fact]
    public void Summaries_of_minutes_come_back()
    {
        (long, RollUpSum)[] minutes = [(-3, new RollUpSum(60, 1.5, 2.0 / 3, 9)), (0, new RollUpSum(1, -1e300, -1e300, -1e300)), (1439, new RollUpSum(7, 0, 0.1, 0.2))];
        var block = new PackWriter();
        PackedMinutes.Write(block, minutes);
        var from = new PackReader(block.Written);

        Assert.Equal(minutes, PackedMinutes.Read(ref from));
    }

    [Fact]
    public void Every_single_damaged_bit_and_a_block_in_anothers_place_are_found()
    {
        var block = new PackWriter();
        ChunkFormat.Begin(block);
        PackedValues.Write(block, [18.1, 18.3, 18.2, 0.25]);
        ChunkFormat.End(block, 7);
        var whole = block.Written.ToArray();
        Assert.Throws<InvalidDataException>(() => { ChunkFormat.Open(whole, 8); });
        for (var bit = 0; bit < 8 * whole.Length; bit++)
        {
            var damaged = whole.ToArray();
            damaged[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.Throws<InvalidDataException>(() => { ChunkFormat.Open(damaged, 7); });
        }

        for (var length = 0; length < whole.Length; length++)
            Assert.Throws<InvalidDataException>(() => { ChunkFormat.Open(whole.AsSpan(0, length), 7); });
    }

    [Fact]
    public void Bytes_that_mean_nothing_are_refused_and_never_crash_the_reader() =>
        Gen.Byte.Array[0, 60].Sample(bytes =>
        {
            try
            {
                var from = new PackReader(bytes);
                PackedValues.Read(ref from, new double[20]);
                from = new PackReader(bytes);
                PackedTimes.Read(ref from, new long[20]);
            }
            catch (Exception e) when (e is InvalidDataException or OverflowException)
            {
            }
        });

    private static void AssertValues(double[] values, Action<PackWriter> check)
    {
        var block = new PackWriter();
        PackedValues.Write(block, values);
        var read = new double[values.Length];
        var from = new PackReader(block.Written);
        PackedValues.Read(ref from, read);
        Assert.Equal(values.Select(BitConverter.DoubleToInt64Bits), read.Select(BitConverter.DoubleToInt64Bits));
        check(block);
    }

    private static long[] Read(long[] times, out int bytes)
    {
        var block = new PackWriter();
        PackedTimes.Write(block, times);
        bytes = block.Length;
        var from = new PackReader(block.Written);
        var read = new long[PackedTimes.ReadCount(ref from)];
        PackedTimes.Read(ref from, read);
        return read;
    }
}
