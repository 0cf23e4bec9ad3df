namespace LaserWatch.Calibration;

public class PolynomialStepTests
{
    [Fact]
    public void Coefficients_go_from_the_constant_upwards()
    {
        Assert.True(new PolynomialStep { Coefficients = [1, 2, 3] }.TryApply(10, out var value, out _));
        Assert.Equal(321, value);
    }

    [Fact]
    public void A_result_too_large_for_a_number_is_a_fault()
    {
        Assert.False(new PolynomialStep { Coefficients = [0, 0, 1] }.TryApply(1e200, out var value, out var fault));
        Assert.Equal((0.0, CalibrationFault.NotFinite), (value, fault));
    }

    [Fact]
    public void Too_few_too_many_or_useless_coefficients_are_mistakes()
    {
        Assert.Equal(["coefficients has 0 numbers: give 2 to 10, the constant one first"], new PolynomialStep().Mistakes());
        Assert.Equal(["coefficients has 11 numbers: give 2 to 10, the constant one first"], new PolynomialStep { Coefficients = new double[11] }.Mistakes());
        Assert.Single(new PolynomialStep { Coefficients = [5, 0, 0] }.Mistakes());
        Assert.Equal(["coefficients must be finite numbers"], new PolynomialStep { Coefficients = [0, double.NaN] }.Mistakes());
        Assert.Empty(new PolynomialStep { Coefficients = [0, 1] }.Mistakes());
    }
}
