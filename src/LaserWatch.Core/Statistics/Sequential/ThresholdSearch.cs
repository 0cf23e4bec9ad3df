namespace LaserWatch.Statistics;

/// <summary>Finds the threshold at which a chart has the wanted run length.</summary>
internal static class ThresholdSearch
{
    /// <summary>
    /// The secant method on ln(run length), which is all but linear in the threshold, held within bounds that shrink as it goes.
    /// </summary>
    /// <param name="runLengthAt">Rises with the threshold.</param>
    /// <param name="wanted">The run length.</param>
    /// <param name="guess">A first threshold, above <paramref name="least"/>.</param>
    /// <param name="least">Lowest threshold that can be tried.</param>
    public static double Solve(Func<double, double> runLengthAt, double wanted, double guess, double least = 1e-3)
    {
        var (low, high) = (least, double.PositiveInfinity);
        double Error(double threshold)
        {
            var error = Math.Log(runLengthAt(threshold) / wanted);
            if (error < 0)
                low = Math.Max(low, threshold);
            else
                high = Math.Min(high, threshold);
            return error;
        }

        var (a, b) = (guess, guess * 1.02 + 0.02);
        var (errorA, errorB) = (Error(a), Error(b));
        for (var step = 0; step < 60 && Math.Abs(errorB) > 1e-10; step++)
        {
            var next = b - errorB * (b - a) / (errorB - errorA);
            if (!(next > low && next < high))
                next = double.IsFinite(high) ? (low + high) / 2 : 2 * b;
            if (high - low < 1e-12 * high)
                return next;
            (a, errorA, b, errorB) = (b, errorB, next, Error(next));
        }

        return b;
    }
}
