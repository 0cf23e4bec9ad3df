using CsCheck;

namespace LaserWatch.Calibration;

public class DividerStepTests
{
    [Theory]
    [InlineData(false, 512, 10_000)]
    [InlineData(true, 512, 10_000)]
    [InlineData(false, 256, 3333.3333333333)]
    [InlineData(true, 256, 30_000)]
    public void Counts_give_the_sensors_ohms_on_either_side(bool atSupply, double counts, double ohms)
    {
        var step = new DividerStep { FixedOhms = 10_000, RawAtSupply = 1024, SensorAtSupply = atSupply };

        Assert.True(step.TryApply(counts, out var value, out _));
        Assert.Equal(ohms, value, 1e-6);
    }

    [Fact]
    public void Any_resistance_comes_back_from_the_volts_it_makes() =>
        Gen.Select(Gen.Double[10, 1e6], Gen.Double[100, 1e5], Gen.Double[1, 12], Gen.Bool).Sample((ohms, fixedOhms, supply, atSupply) =>
        {
            var volts = supply * (atSupply ? fixedOhms : ohms) / (ohms + fixedOhms);
            Assert.True(new DividerStep { FixedOhms = fixedOhms, RawAtSupply = supply, SensorAtSupply = atSupply }.TryApply(volts, out var back, out _));
            Assert.Equal(ohms, back, ohms * 1e-6);
        });

    [Theory]
    [InlineData(false, 0, CalibrationFault.ShortCircuit)]
    [InlineData(false, 1023, CalibrationFault.OpenCircuit)]
    [InlineData(true, 0, CalibrationFault.OpenCircuit)]
    [InlineData(true, 1023, CalibrationFault.ShortCircuit)]
    [InlineData(true, 2000, CalibrationFault.ShortCircuit)]
    [InlineData(false, -3, CalibrationFault.ShortCircuit)]
    public void The_ends_of_the_scale_are_the_wiring(bool atSupply, double counts, CalibrationFault expected)
    {
        Assert.False(new DividerStep { SensorAtSupply = atSupply }.TryApply(counts, out _, out var fault));
        Assert.Equal(expected, fault);
    }
}
