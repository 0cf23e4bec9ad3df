using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Means of batches of samples, so long that neighbours are all but independent: the plain way to make a chart of coloured noise.</summary>
/// <remarks>Runger and Willemain 1996, IIE Transactions 28:487 (from memory). O(1), nothing allocated.</remarks>
public sealed class BatchMeans
{
    private readonly int _size;
    private double _sum;
    private int _held;

    /// <param name="size">Samples in a batch.</param>
    public BatchMeans(int size)
    {
        if (size < 1)
            throw new ArgumentOutOfRangeException(nameof(size), size, "A batch holds at least one sample.");
        _size = size;
    }

    /// <summary>The batch's mean where this sample completes it; otherwise null.</summary>
    public double? Add(double sample)
    {
        _sum += sample;
        if (++_held < _size)
            return null;
        var mean = _sum / _size;
        Reset();
        return mean;
    }

    /// <summary>Throws the unfinished batch away, as after a gap.</summary>
    public void Reset() => (_sum, _held) = (0, 0);

    public void Visit(StateVisitor visitor)
    {
        visitor.Walk(ref _sum);
        visitor.Walk(ref _held);
        if (_held < 0 || _held >= _size)
            StateVisitor.Refuse();
    }

    /// <summary>Smallest batch of AR(1) noise whose means have a correlation of at most <paramref name="greatest"/> with their neighbours.</summary>
    /// <exception cref="ArgumentOutOfRangeException">φ is not between −1 and 1, or the correlation not between 0 and 1.</exception>
    public static int SizeFor(double phi, double greatest = 0.05)
    {
        if (!(Math.Abs(phi) < 1))
            throw new ArgumentOutOfRangeException(nameof(phi), phi, "φ is between −1 and 1.");
        if (!(greatest is > 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(greatest), greatest, "The greatest correlation is between 0 and 1.");
        var size = 1;
        while (Math.Abs(Correlation(phi, size)) > greatest)
            size++;
        return size;
    }

    /// <summary>Correlation of neighbouring means of AR(1) noise: φ(1 − φᵇ)² / (b(1 − φ²) − 2φ(1 − φᵇ)), from the sums of φ^|i−j|.</summary>
    public static double Correlation(double phi, int size)
    {
        var left = 1 - Math.Pow(phi, size);
        return phi * left * left / (size * (1 - phi * phi) - 2 * phi * left);
    }

    /// <summary>Variance of a mean of AR(1) noise of unit variance: (b(1 − φ²) − 2φ(1 − φᵇ)) / (b(1 − φ))².</summary>
    public static double Variance(double phi, int size)
    {
        var scale = size * (1 - phi);
        return (size * (1 - phi * phi) - 2 * phi * (1 - Math.Pow(phi, size))) / (scale * scale);
    }
}
