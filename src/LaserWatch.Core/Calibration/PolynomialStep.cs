namespace LaserWatch.Calibration;

/// <summary>c0 + c1·raw + c2·raw² + …</summary>
public sealed record PolynomialStep : CalibrationStep
{
    public const int MostCoefficients = 10;

    /// <summary>The coefficients, the constant one first.</summary>
    public IReadOnlyList<double> Coefficients { get; init; } = [];

    // Horner's scheme.
    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        var sum = 0.0;
        for (var i = Coefficients.Count - 1; i >= 0; i--)
            sum = (sum * raw) + Coefficients[i];
        return Good(sum, out value, out fault);
    }

    public override IEnumerable<string> Mistakes()
    {
        if (Coefficients.Count is < 2 or > MostCoefficients)
            yield return $"coefficients has {Coefficients.Count} numbers: give 2 to {MostCoefficients}, the constant one first";
        else if (Coefficients.Any(c => !double.IsFinite(c)))
            yield return "coefficients must be finite numbers";
        else if (Coefficients.Skip(1).All(c => c == 0))
            yield return "coefficients after the first are all 0, so the sensor could never be seen to change: give at least one other";
    }
}
