namespace LaserWatch.Benchmarks;

/// <summary>The yardsticks. Each is one-sided, from a fresh start.</summary>
public static class Published
{
    /// <summary>
    /// Least possible worst-case delay of a known shift: computed with R 4.2.2 and spc 0.6.7 (xcusum.arl) at the exact threshold; that it is the
    /// optimum is of Moustakides 1986, Annals of Statistics 14:1379.
    /// </summary>
    public static readonly (double RunLength, double Shift, double Delay)[] KnownShift =
    [
        (370, 0.5, 23.668101), (370, 1, 8.573036), (370, 1.5, 4.572429), (370, 2, 2.917081), (370, 3, 1.570601),
        (10_000, 0.5, 49.133105), (10_000, 1, 15.093719), (10_000, 1.5, 7.486035), (10_000, 2, 4.561125), (10_000, 3, 2.320050),
    ];

    /// <summary>The same of the two-sided CUSUM, which is no optimum but what a two-sided chart is to be compared with.</summary>
    public static readonly (double RunLength, double Shift, double Delay)[] TwoSidedCusum =
    [
        (370, 0.5, 28.795202), (370, 1, 9.924690), (370, 1.5, 5.180274), (370, 2, 3.263127), (370, 3, 1.723347),
        (10_000, 0.5, 54.651390), (10_000, 1, 16.478046), (10_000, 1.5, 8.101742), (10_000, 2, 4.907513), (10_000, 3, 2.476441),
    ];

    /// <summary>
    /// Delay of the likelihood-ratio test of the ramp with its slope known; from the simulations that came with the table of values
    /// (their own run length in control within 4 % of the nominal one).
    /// </summary>
    public static readonly (double RunLength, double Slope, double Delay)[] RampTest =
    [
        (370, 0.005, 68.7959), (370, 0.01, 47.1832), (370, 0.02, 31.9126), (370, 0.05, 18.6476), (370, 0.1, 12.2814), (370, 0.2, 8.0066), (370, 0.5, 4.5060),
        (10_000, 0.005, 102.9324), (10_000, 0.01, 66.9844), (10_000, 0.02, 43.3538), (10_000, 0.05, 24.2560), (10_000, 0.1, 15.5989), (10_000, 0.2, 9.9945), (10_000, 0.5, 5.5093),
    ];
}
