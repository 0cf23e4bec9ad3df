namespace LaserWatch.Evaluation.Scenarios;

/// <summary>The least mean delay that any test could have, against which the rules' delays are held.</summary>
/// <remarks>
/// A sudden fault: the CUSUM that knows the shift's size, which no test beats in the worst case (Moustakides, Annals of Statistics
/// 14:1379, 1986), fed the same block means, with white noise only: the machine's straying is left out, so the figure is optimistic.
/// Its run lengths by Siegmund's approximation (Sequential Analysis, 1985; from memory), good to a few percent. A gradual fault
/// cannot be told before it is material: then the least delay is the time it takes to become so.
/// </remarks>
internal static class LeastDelays
{
    /// <summary>Blocks until the best one-sided test tells a known shift.</summary>
    /// <param name="shiftSigmas">Shift in standard deviations of a block's mean; above 0.</param>
    /// <param name="blocksBetweenFalseAlarms">Mean number of blocks between false alarms without a shift.</param>
    /// <returns>At least one block: nothing can be told before it is measured.</returns>
    public static double Blocks(double shiftSigmas, double blocksBetweenFalseAlarms)
    {
        var k = shiftSigmas / 2;
        double low = 0, high = 200;
        for (var i = 0; i < 80; i++)
        {
            var middle = (low + high) / 2;
            if (RunLength(-k, middle) < blocksBetweenFalseAlarms)
                low = middle;
            else
                high = middle;
        }

        return Math.Max(RunLength(k, high), 1);
    }

    /// <summary>Mean run length of a one-sided CUSUM whose increments have mean <paramref name="drift"/> and deviation 1.</summary>
    private static double RunLength(double drift, double h)
    {
        var x = 2 * drift * (h + 1.166);
        if (-x > 600)
            return double.PositiveInfinity;
        return (Math.Exp(-x) + x - 1) / (2 * drift * drift);
    }
}
