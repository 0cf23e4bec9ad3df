namespace LaserWatch.Quantities;

/// <summary>Gauge pressure, in kilopascals. Always finite; <c>default</c> is 0 kPa, the room's own pressure.</summary>
/// <remarks>May be negative: a gauge at rest can read below zero.</remarks>
public readonly record struct Kilopascals
{
    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite.</exception>
    public Kilopascals(double value)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(nameof(value), value, "A pressure must be finite.");
        Value = value;
    }

    public double Value { get; }
}
