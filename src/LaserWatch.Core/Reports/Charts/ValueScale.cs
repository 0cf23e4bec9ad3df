namespace LaserWatch.Reports.Charts;

/// <summary>Values to heights, with ticks at round numbers.</summary>
/// <param name="From">Value at the lower edge.</param>
/// <param name="To">Value at the upper edge; above <paramref name="From"/>.</param>
/// <param name="Step">From tick to tick.</param>
/// <param name="Decimals">That ticks need.</param>
internal sealed record ValueScale(double From, double To, double Step, int Decimals, double Bottom, double Top)
{
    public double Y(double value) => Bottom + ((value - From) / (To - From) * (Top - Bottom));

    /// <summary>As <see cref="Y"/>, held within the edges.</summary>
    public double Clamped(double value) => Y(Math.Clamp(value, From, To));

    public IEnumerable<double> Ticks()
    {
        for (var k = (long)Math.Ceiling((From / Step) - 1e-9); k * Step <= To + (1e-9 * Step); k++)
            yield return k * Step;
    }

    /// <summary>A scale over the values, its ends at ticks.</summary>
    /// <param name="bottom">Height of the lower edge, downwards from the top of the drawing.</param>
    /// <param name="top">Height of the upper edge.</param>
    public static ValueScale Over(double low, double high, double bottom, double top, int ticks)
    {
        if (!(high - low > 1e-9 * Math.Max(1, Math.Abs(high))))
            (low, high) = (low - Math.Max(0.5, Math.Abs(low) * 0.05), high + Math.Max(0.5, Math.Abs(high) * 0.05));
        var raw = (high - low) / ticks;
        var decade = Math.Pow(10, Math.Floor(Math.Log10(raw)));
        var step = decade * ((raw / decade) switch { <= 1 => 1, <= 2 => 2, <= 5 => 5, _ => 10 });
        var decimals = Math.Max(0, (int)-Math.Floor(Math.Log10(step) + 1e-9));
        return new(Math.Floor((low / step) + 1e-9) * step, Math.Ceiling((high / step) - 1e-9) * step, step, decimals, bottom, top);
    }
}
