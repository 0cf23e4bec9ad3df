using System.Runtime.InteropServices;

namespace LaserWatch.Storage;

/// <summary>Running count, lowest, mean and highest. <c>default</c> holds nothing.</summary>
[StructLayout(LayoutKind.Auto)]
public readonly record struct RollUpSum(long Count, double Min, double Mean, double Max)
{
    /// <remarks>The mean moves by shares, so that values near the end of the range cannot overflow a sum.</remarks>
    public RollUpSum Add(double value) => Merge(new RollUpSum(1, value, value, value));

    public RollUpSum Merge(RollUpSum other)
    {
        if (other.Count == 0)
            return this;
        if (Count == 0)
            return other;
        var count = Count + other.Count;
        var min = Math.Min(Min, other.Min);
        var max = Math.Max(Max, other.Max);
        var mean = (Mean * ((double)Count / count)) + (other.Mean * ((double)other.Count / count));
        return new RollUpSum(count, min, Math.Clamp(mean, min, max), max);
    }
}
