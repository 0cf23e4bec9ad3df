namespace LaserWatch.Quantities;

/// <summary>Laser tube current, in milliamperes. Always finite; <c>default</c> is 0 mA.</summary>
/// <remarks>May be slightly negative: a current sensor at rest can read below zero.</remarks>
public readonly record struct Milliamps
{
    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite.</exception>
    public Milliamps(double value)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(nameof(value), value, "A current must be finite.");
        Value = value;
    }

    public double Value { get; }
}
