namespace LaserWatch.Calibration;

public class CurrentLoopStepTests
{
    private static readonly CurrentLoopStep ZeroToTenBar = new() { ValueAt4Milliamps = 0, ValueAt20Milliamps = 10 };

    // Span: IEC 60381-1 (4-20 mA). Bands: NAMUR NE 43, read in three makers' pages, which differ on < or <= at the limits.
    [Theory]
    [InlineData(3.8, -0.125)]
    [InlineData(4, 0)]
    [InlineData(5, 0.625)]
    [InlineData(8, 2.5)]
    [InlineData(12, 5)]
    [InlineData(16, 7.5)]
    [InlineData(20, 10)]
    [InlineData(20.5, 10.3125)]
    public void The_measuring_band_and_its_saturated_ends_are_values(double milliamps, double bar)
    {
        Assert.True(ZeroToTenBar.TryApply(milliamps, out var value, out var fault));
        Assert.Equal((bar, CalibrationFault.None), (Math.Round(value, 12), fault));
    }

    [Theory]
    [InlineData(0, CalibrationFault.FailedLow)]
    [InlineData(3.5, CalibrationFault.FailedLow)]
    [InlineData(3.6, CalibrationFault.FailedLow)]
    [InlineData(3.7, CalibrationFault.BetweenBands)]
    [InlineData(20.8, CalibrationFault.BetweenBands)]
    [InlineData(21, CalibrationFault.FailedHigh)]
    [InlineData(22, CalibrationFault.FailedHigh)]
    public void Beyond_the_measuring_band_is_no_value(double milliamps, CalibrationFault expected)
    {
        Assert.False(ZeroToTenBar.TryApply(milliamps, out var value, out var fault));
        Assert.Equal((0.0, expected), (value, fault));
    }

    [Fact]
    public void Only_the_failure_signals_mean_that_the_sensor_has_failed()
    {
        Assert.True(CalibrationFault.FailedLow.MeansSensorFailed());
        Assert.True(CalibrationFault.FailedHigh.MeansSensorFailed());
        Assert.False(CalibrationFault.BetweenBands.MeansSensorFailed());
        Assert.False(CalibrationFault.OutsideTable.MeansSensorFailed());
    }

    [Fact]
    public void A_span_of_nothing_is_a_mistake()
    {
        Assert.Empty(ZeroToTenBar.Mistakes());
        Assert.Equal(
            ["valueAt4Milliamps and valueAt20Milliamps are both 0: give the transmitter's span from its label"],
            new CurrentLoopStep().Mistakes());
    }
}
