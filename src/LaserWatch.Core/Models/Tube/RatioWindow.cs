using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>The newest block ratios of one power, or of all powers together.</summary>
internal sealed class RatioWindow
{
    /// <summary>About a quarter of an hour of beam.</summary>
    public const int Size = 16;

    private const double StraysAtFirst = 0.006;
    private const double MeanBlocks = 64;
    private const double StraysBlocks = 128;

    private double[] _ratios = new double[Size];
    private readonly long[] _times = new long[Size];
    private int _next;
    private int _count;
    private double _baselineError;
    private double _mean = double.NaN;
    private double _strays = StraysAtFirst;

    // What was asked for last since the newest block: several look at the same.
    private Estimate _asked;
    private Estimate _askedBefore;

    /// <summary>Whole percent; 0 stands for all powers together.</summary>
    public double Power;

    /// <summary>The sag rule's memory for this power.</summary>
    public bool Sagging;

    public int Count => _count;

    /// <summary>How far the blocks here stray about their level over hours and days, as a standard deviation.</summary>
    public double Strays => _strays;

    /// <summary>Relative standard error of the baseline the newest block was held against.</summary>
    public double BaselineError => _baselineError;

    /// <summary>The ratio of the block that came <paramref name="back"/> blocks before the newest.</summary>
    public double Ratio(int back) => _ratios[Place(back)];

    public Instant Time(int back) => new(_times[Place(back)]);

    public void Add(double ratio, double baselineError, Instant at)
    {
        // About a mean that follows within an hour or so of beam, and with each block's say bounded, so that ageing and steps soon leave it.
        _mean = double.IsNaN(_mean) ? ratio : _mean + ((ratio - _mean) / MeanBlocks);
        _strays += ((1.2533 * Math.Min(Math.Abs(ratio - _mean), 4 * _strays)) - _strays) / StraysBlocks;
        _ratios[_next] = ratio;
        _times[_next] = at.UnixNanoseconds;
        _baselineError = baselineError;
        _next = (_next + 1) % Size;
        _count = Math.Min(_count + 1, Size);
        (_asked, _askedBefore) = (default, default);
    }

    /// <summary>The median ratio of the newest blocks, and its standard error; null with fewer than <paramref name="least"/>.</summary>
    public (double Ratio, double Error)? Recent(int blocks, int least)
    {
        var count = Math.Min(blocks, _count);
        if (count < least)
            return null;
        if (_asked.Count != count)
        {
            (_asked, _askedBefore) = (_askedBefore, _asked);
            if (_asked.Count != count)
                _asked = Estimated(count);
        }

        return (_asked.Ratio, _asked.Error);
    }

    /// <summary>The median of a stretch of blocks.</summary>
    /// <param name="from">The newest of the stretch, counted back from the newest of all.</param>
    /// <param name="count">How many.</param>
    public double Median(int from, int count)
    {
        Span<double> scratch = stackalloc double[count];
        for (var i = 0; i < count; i++)
            scratch[i] = Ratio(from + i);
        return RobustLocation.Median(scratch);
    }

    /// <summary>The robust standard deviation of a stretch of blocks about their median.</summary>
    public double Deviation(int from, int count, double median)
    {
        Span<double> scratch = stackalloc double[count];
        for (var i = 0; i < count; i++)
            scratch[i] = Math.Abs(Ratio(from + i) - median);
        return 1.4826 * RobustLocation.Median(scratch);
    }

    public double Highest(int blocks)
    {
        var highest = double.NegativeInfinity;
        for (var i = 0; i < blocks; i++)
            highest = Math.Max(highest, Ratio(i));
        return highest;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref Power);
        state.Walk(ref Sagging);
        state.Walk(ref _ratios);
        for (var i = 0; i < Size; i++)
            state.Walk(ref _times[i]);
        state.Walk(ref _next);
        state.Walk(ref _count);
        state.Walk(ref _baselineError);
        state.Walk(ref _mean);
        state.Walk(ref _strays);
        (_asked, _askedBefore) = (default, default);
        if (state.IsLoading && (_ratios.Length != Size || _next is < 0 or >= Size || _count is < 0 or > Size))
            StateVisitor.Refuse();
    }

    private Estimate Estimated(int count)
    {
        var median = Median(0, count);
        var deviation = Deviation(0, count, median);
        // 1.57 = π/2: the variance of a median beside that of a mean, for normal blocks.
        return new(count, median, Math.Sqrt((1.57 * deviation * deviation / count) + (_baselineError * _baselineError)));
    }

    private int Place(int back) => (_next - 1 - back + (2 * Size)) % Size;

    private readonly record struct Estimate(int Count, double Ratio, double Error);
}
