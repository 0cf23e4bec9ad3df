using CsCheck;

namespace LaserWatch.Calibration;

public class LinearStepTests
{
    [Fact]
    public void Two_points_make_a_line_that_goes_on_beyond_them()
    {
        var step = new LinearStep { Raw1 = 0.5, Value1 = 0, Raw2 = 4.5, Value2 = 1000 };

        Assert.Equal([-125.0, 0, 500, 1000, 1125], new[] { 0, 0.5, 2.5, 4.5, 5 }.Select(raw => step.TryApply(raw, out var v, out _) ? v : double.NaN));
    }

    [Fact]
    public void Both_points_come_back_to_the_last_digit() =>
        Gen.Select(Gen.Double[-1e6, 1e6], Gen.Double[-1e6, 1e6], Gen.Double[-1e6, 1e6], Gen.Double[-1e6, 1e6])
            .Where((raw1, _, raw2, _) => Math.Abs(raw1 - raw2) > 1e-3)
            .Sample((raw1, value1, raw2, value2) =>
            {
                var step = new LinearStep { Raw1 = raw1, Value1 = value1, Raw2 = raw2, Value2 = value2 };
                step.TryApply(raw1, out var first, out _);
                step.TryApply(raw2, out var second, out _);
                Assert.Equal((value1, value2), (first, second));
            });

    [Fact]
    public void Points_that_make_no_line_are_mistakes()
    {
        Assert.Equal(["raw1 and raw2 are both 0: give two different points"], new LinearStep { Value2 = 1 }.Mistakes());
        Assert.Equal(
            ["value1 and value2 are both 0, so the sensor could never be seen to change: give two different points"],
            new LinearStep { Raw2 = 1023 }.Mistakes());
        Assert.Equal(["raw1, value1, raw2 and value2 must be finite numbers"], new LinearStep { Raw2 = double.NaN }.Mistakes());
        Assert.Empty(new LinearStep { Raw2 = 1023, Value2 = 100 }.Mistakes());
    }
}
