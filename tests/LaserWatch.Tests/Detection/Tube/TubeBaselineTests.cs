using LaserWatch.Rules;

namespace LaserWatch.Models;

public class TubeBaselineTests
{
    [Fact]
    public void A_power_whose_current_also_rises_above_what_was_learned_is_an_engravings()
    {
        var baseline = Learned();
        Assert.False(baseline.IsErratic(40));

        foreach (var current in (double[])[11.0, 8.5, 11.4, 12.0])
            baseline.Watch(40, current);

        Assert.True(baseline.IsErratic(40));
    }

    [Fact]
    public void A_fall_that_stays_where_it_is_does_not_make_a_power_erratic()
    {
        var baseline = Learned();

        for (var i = 0; i < 50; i++)
            baseline.Watch(40, 8.5 + (0.05 * (i % 3)));

        Assert.False(baseline.IsErratic(40));
    }

    [Fact]
    public void A_power_first_used_on_an_old_tube_is_learned_as_if_the_tube_were_new()
    {
        var baseline = new TubeBaseline(new TubeCurrentOptions());
        for (var i = 0; i < 8; i++)
            baseline.Learn(70, 18.0, day: 100, beamSeconds: 50 * 3600, health: 0.9);

        Assert.Equal(20.0, baseline.Expected(70, null)!.Value.Milliamps, 9);
    }

    private static TubeBaseline Learned()
    {
        var baseline = new TubeBaseline(new TubeCurrentOptions());
        for (var i = 0; i < 10; i++)
            baseline.Learn(40, 10.0, day: 1, beamSeconds: 60 * i, health: 1);
        return baseline;
    }
}
