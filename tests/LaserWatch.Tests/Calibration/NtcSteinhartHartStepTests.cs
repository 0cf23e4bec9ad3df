namespace LaserWatch.Calibration;

public class NtcSteinhartHartStepTests
{
    // A table in the manual of a temperature probe with a 10 kOhm thermistor (read), with A, B and C of that thermistor (memory).
    [Theory]
    [InlineData(336103.2, -40)]
    [InlineData(176804.8, -30)]
    [InlineData(97006.9, -20)]
    [InlineData(55303.9, -10)]
    [InlineData(42316.7, -5)]
    [InlineData(32650.9, 0)]
    [InlineData(31030.8, 1)]
    public void A_published_table_comes_out_within_three_thousandths(double ohms, double celsius)
    {
        var step = new NtcSteinhartHartStep { A = 1.129241e-3, B = 2.341077e-4, C = 8.775468e-8 };

        Assert.True(step.TryApply(ohms, out var value, out _));
        Assert.Equal(celsius, value, 0.003);
        Assert.Empty(step.Mistakes());
    }

    // Coefficients fitted through 0, 25 and 35 °C of a maker's table of a 10 kOhm B 3950 bead (table read, fit computed).
    [Theory]
    [InlineData(32580.7, 0)]
    [InlineData(20000.3, 9.9321)]
    [InlineData(12526.6, 19.9723)]
    [InlineData(10000.0, 25)]
    [InlineData(6497.6, 35)]
    public void Fitted_coefficients_give_back_the_fit(double ohms, double celsius)
    {
        var step = new NtcSteinhartHartStep { A = 1.26573191e-3, B = 2.12920032e-4, C = 1.62825884e-7 };

        Assert.True(step.TryApply(ohms, out var value, out _));
        Assert.Equal(celsius, value, 0.0001);
    }

    [Fact]
    public void Coefficients_of_no_thermistor_are_mistakes()
    {
        var nothing = new NtcSteinhartHartStep().Mistakes().ToList();
        Assert.Equal(2, nothing.Count);
        Assert.StartsWith("a is 0:", nothing[0], StringComparison.Ordinal);
        Assert.StartsWith("b is 0:", nothing[1], StringComparison.Ordinal);
        Assert.Equal(["a, b and c must be finite numbers"], new NtcSteinhartHartStep { A = double.NaN }.Mistakes());
    }
}
