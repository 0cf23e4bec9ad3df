namespace LaserWatch.Calibration;

public class CurrentClampStepTests
{
    [Fact]
    public void Volts_across_the_burden_are_amperes_in_the_conductor()
    {
        // 100 A : 50 mA into 20 ohms gives 1 V at full scale.
        var step = new CurrentClampStep { Ratio = 2000, BurdenOhms = 20 };

        Assert.True(step.TryApply(1, out var value, out _));
        Assert.Equal((100.0, "V", "A"), (value, step.RawUnit, step.ValueUnit));
    }
}
