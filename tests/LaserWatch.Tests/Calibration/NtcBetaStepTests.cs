namespace LaserWatch.Calibration;

public class NtcBetaStepTests
{
    // A maker's R/T table of a 10 kOhm bead, B25/50 = 3950 K (read), and what the Beta equation makes of each resistance (computed).
    [Theory]
    [InlineData(283381.1, -35.0917)]
    [InlineData(32580.7, 0.5948)]
    [InlineData(20000.3, 10.1762)]
    [InlineData(15785.0, 15.0693)]
    [InlineData(12526.6, 20.0152)]
    [InlineData(10000.0, 25.0000)]
    [InlineData(8033.8, 30.0097)]
    [InlineData(6497.6, 35.0293)]
    [InlineData(1242.9, 80.6903)]
    [InlineData(673.0, 101.2658)]
    public void Resistances_give_the_temperatures_of_the_Beta_equation(double ohms, double celsius)
    {
        Assert.True(new NtcBetaStep { R25Ohms = 10_000, BetaKelvin = 3950 }.TryApply(ohms, out var value, out _));
        Assert.Equal(celsius, value, 0.0001);
    }

    // R = R25 exp(B(1/T - 1/298.15)), computed.
    [Theory]
    [InlineData(3380, 28223.73, 0)]
    [InlineData(3380, 18231.40, 10)]
    [InlineData(3380, 8294.61, 30)]
    [InlineData(3380, 4160.14, 50)]
    [InlineData(3435, 28704.29, 0)]
    [InlineData(3435, 12171.41, 20)]
    public void Other_Beta_values_give_the_temperatures_of_the_same_equation(double beta, double ohms, double celsius)
    {
        Assert.True(new NtcBetaStep { BetaKelvin = beta }.TryApply(ohms, out var value, out _));
        Assert.Equal(celsius, value, 0.0001);
    }

    // The maker's own temperatures: how far the equation can be trusted.
    [Theory]
    [InlineData(20000.3, 10, 0.2)]
    [InlineData(12526.6, 20, 0.1)]
    [InlineData(6497.6, 35, 0.1)]
    [InlineData(32580.7, 0, 0.6)]
    public void In_a_chillers_range_the_equation_is_near_the_makers_table(double ohms, double table, double within)
    {
        Assert.True(new NtcBetaStep().TryApply(ohms, out var value, out _));
        Assert.Equal(table, value, within);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-5)]
    [InlineData(1e-9)]
    public void No_resistance_is_a_short_circuit(double ohms)
    {
        Assert.False(new NtcBetaStep().TryApply(ohms, out _, out var fault));
        Assert.Equal(CalibrationFault.ShortCircuit, fault);
    }
}
