using System.Runtime.InteropServices;

namespace LaserWatch.Storage;

/// <summary>Running count, lowest, mean and highest. <c>default</c> holds nothing.</summary>
[StructLayout(LayoutKind.Auto)]
public readonly record struct RollUpSum(long Count, double Min, double Mean, double Max)
{
    /// <summary>Of all the values at once, which is quicker.</summary>
    public static RollUpSum Of(ReadOnlySpan<double> values)
    {
        if (values.IsEmpty)
            return default;
        double min = values[0], max = values[0], total = 0;
        foreach (var value in values)
        {
            total += value;
            min = Math.Min(min, value);
            max = Math.Max(max, value);
        }

        if (double.IsFinite(total))
            return new RollUpSum(values.Length, min, Math.Clamp(total / values.Length, min, max), max);
        var sum = default(RollUpSum);
        foreach (var value in values)
            sum = sum.Add(value);
        return sum;
    }

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
