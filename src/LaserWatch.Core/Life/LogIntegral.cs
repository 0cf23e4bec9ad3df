namespace LaserWatch.Life;

/// <summary>Integrals of positive functions given by their logarithms, which alone would under- or overflow.</summary>
internal static class LogIntegral
{
    private const int Points = 401;

    /// <summary>ln ∫ exp(f(u)) du by the trapezoidal rule, which for smooth functions that vanish at both ends is exact to many digits.</summary>
    public static double Over(Func<double, double> log, double from, double to)
    {
        var step = (to - from) / (Points - 1);
        Span<double> values = stackalloc double[Points];
        var highest = double.NegativeInfinity;
        for (var i = 0; i < Points; i++)
        {
            values[i] = log(from + (i * step));
            highest = Math.Max(highest, values[i]);
        }

        var sum = 0.0;
        foreach (var value in values)
            sum += Math.Exp(value - highest);
        return highest + Math.Log(sum * step);
    }
}
