namespace LaserWatch.Quantities;

/// <summary>Commanded laser power, in percent of full. Always finite; <c>default</c> is 0 %.</summary>
/// <remarks>A scaled analogue command can read a little below 0 or above 100.</remarks>
public readonly record struct PowerPercent
{
    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite.</exception>
    public PowerPercent(double value)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(nameof(value), value, "A power must be finite.");
        Value = value;
    }

    public double Value { get; }
}
