namespace LaserWatch.Quantities;

/// <summary>Temperature, in degrees Celsius. Always finite; <c>default</c> is 0 °C.</summary>
/// <remarks>Not bounded by absolute zero: a broken sensor can say anything.</remarks>
public readonly record struct Celsius
{
    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite.</exception>
    public Celsius(double value)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(nameof(value), value, "A temperature must be finite.");
        Value = value;
    }

    public double Value { get; }
}
