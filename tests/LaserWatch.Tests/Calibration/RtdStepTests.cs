using CsCheck;

namespace LaserWatch.Calibration;

public class RtdStepTests
{
    // IEC 60751, A = 3.9083e-3, B = -5.775e-7, C = -4.183e-12 (below 0 °C): computed by the equation; to two decimals they are the
    // published Pt100 tables, read.
    public static readonly TheoryData<double, double> Pt100 = new()
    {
        { -200, 18.5201 }, { -100, 60.2558 }, { -50, 80.3063 }, { -10, 96.0859 }, { 0, 100 }, { 5, 101.9527 }, { 10, 103.9025 },
        { 15, 105.8495 }, { 18, 107.0162 }, { 20, 107.7935 }, { 22, 108.5703 }, { 25, 109.7347 }, { 30, 111.6729 }, { 35, 113.6083 },
        { 40, 115.5408 }, { 50, 119.3971 }, { 100, 138.5055 }, { 200, 175.8560 }, { 400, 247.0920 }, { 600, 313.7080 }, { 850, 390.4811 },
    };

    [Theory]
    [MemberData(nameof(Pt100))]
    public void Resistances_of_the_table_give_its_temperatures(double celsius, double ohms)
    {
        // The table's last digit is 0.0001 ohm, a few ten-thousandths of a degree.
        ohms = Math.Clamp(ohms, 18.52008, 390.481125);
        Assert.True(new RtdStep().TryApply(ohms, out var pt100, out _));
        Assert.True(new RtdStep { R0Ohms = 1000 }.TryApply(ohms * 10, out var pt1000, out _));

        Assert.Equal(celsius, pt100, 0.0003);
        Assert.Equal(pt100, pt1000, 1e-9);
    }

    [Fact]
    public void Any_temperature_of_the_standard_comes_back_from_its_resistance() =>
        Gen.Double[-200, 850].Sample(celsius =>
        {
            Assert.True(new RtdStep().TryApply(100 * RtdStep.Ratio(celsius), out var back, out _));
            Assert.Equal(celsius, back, 1e-7);
        });

    [Theory]
    [InlineData(0, CalibrationFault.ShortCircuit)]
    [InlineData(-1, CalibrationFault.ShortCircuit)]
    [InlineData(18.4, CalibrationFault.ShortCircuit)]
    [InlineData(391, CalibrationFault.OpenCircuit)]
    [InlineData(1e9, CalibrationFault.OpenCircuit)]
    public void A_resistance_no_platinum_has_is_the_wiring(double ohms, CalibrationFault expected)
    {
        Assert.False(new RtdStep().TryApply(ohms, out _, out var fault));
        Assert.Equal(expected, fault);
        Assert.True(fault.MeansSensorFailed());
    }
}
