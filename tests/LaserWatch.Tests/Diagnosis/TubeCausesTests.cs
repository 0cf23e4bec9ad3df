using CsCheck;
using LaserWatch.Trends;

namespace LaserWatch.Diagnosis;

/// <summary>
/// The stories follow reasoning from a current-regulated supply on a tube of negative resistance, and common practice of the trade; no published source.
/// </summary>
public class TubeCausesTests
{
    private static readonly ChangeFinding Slow = new(ChangeKind.Ramp, 0, 0.05, 0.95, 10, 5, 15, 1, 0.9, 0.005, 0.1, 0.005, 40);
    private static readonly ChangeFinding Sudden = new(ChangeKind.Step, 0, 0.97, 0.03, 30, 29.9, 30.1, 1, 0.9, 0.005, 0.1, 0.005, 40);

    [Fact]
    public void A_slow_fall_near_the_top_alone_on_an_old_tube_is_the_ageing_tube() =>
        Assert.Equal(TubeCause.AgeingTube, First(new() { Fall = 0.1, Change = Slow, Top = new(80, 0.1, 0.005, 24), Lower = new(50, 0.01, 0.005, 14), LifeUsed = 0.9 }));

    [Fact]
    public void A_sudden_fall_in_proportion_at_all_powers_is_not_the_ageing_tube()
    {
        var ranked = TubeCauses.Rank(new() { Fall = 0.1, Change = Sudden, Top = new(80, 0.1, 0.005, 24), Lower = new(50, 0.1, 0.005, 14) });

        Assert.Equal(TubeCause.FailingSupply, ranked[0].Cause);
        Assert.True(ranked.Single(c => c.Cause == TubeCause.AgeingTube).Weight < 0.05);
    }

    [Fact]
    public void A_zero_that_moved_with_the_fall_is_the_sensor() =>
        Assert.Equal(TubeCause.SensorOrWiring, First(new()
        {
            Fall = 0.1, Change = Sudden, Top = new(80, 0.08, 0.005, 24), Lower = new(50, 0.14, 0.005, 14), ZeroShift = (-1.95, 0.05),
        }));

    [Fact]
    public void A_step_at_the_minute_of_a_service_while_proven_cuts_go_through_is_sensor_or_wiring() =>
        Assert.Equal(TubeCause.SensorOrWiring, First(new() { Fall = 0.1, Change = Sudden, ServicedAtChange = "supply", TestCutGood = true }));

    [Fact]
    public void A_fall_that_the_machines_own_coolant_dependence_explains_is_the_hot_coolant() =>
        Assert.Equal(TubeCause.HotCoolant, First(new()
        {
            Fall = 0.06, Change = Slow, CoolantCelsius = 33, CoolantAtBaselineCelsius = 21, CoolantEffect = -0.03, Top = new(80, 0.06, 0.005, 24), Lower = new(50, 0.06, 0.005, 14),
        }));

    [Fact]
    public void A_sudden_fall_at_the_top_alone_with_a_young_tube_is_mains_or_supply()
    {
        var ranked = TubeCauses.Rank(new() { Fall = 0.1, Change = Sudden, Top = new(80, 0.1, 0.005, 24), Lower = new(50, 0.02, 0.005, 14), LifeUsed = 0.1 });

        Assert.Equal([TubeCause.LowMains, TubeCause.FailingSupply], ranked.Take(2).Select(c => c.Cause).Order().Reverse());
    }

    [Fact]
    public void A_test_cut_that_fails_clears_the_sensor()
    {
        var before = TubeCauses.Rank(new() { Fall = 0.1, Change = Slow });
        var after = TubeCauses.Rank(new() { Fall = 0.1, Change = Slow, TestCutGood = false });

        Assert.True(Weight(after, TubeCause.SensorOrWiring) < Weight(before, TubeCause.SensorOrWiring) / 2);
    }

    [Fact]
    public void Nothing_known_leaves_the_trades_experience_and_no_cause_is_ever_ruled_out()
    {
        var ranked = TubeCauses.Rank(new() { Fall = 0.1 });

        Assert.Equal(TubeCause.AgeingTube, ranked[0].Cause);
        Assert.All(ranked, c => Assert.InRange(c.Weight, 0.01, 0.5));
    }

    [Fact]
    public void Weights_sum_to_one_whatever_was_seen()
    {
        var fall = Gen.Select(Gen.Double[30, 100], Gen.Double[-0.1, 0.5], Gen.Double[0.001, 0.05], Gen.Double[5, 30]);
        Gen.Select(Gen.Double[0.01, 0.5], fall, fall, Gen.Double[-5, 5], Gen.Double[-0.03, 0.03], Gen.Bool).Sample((size, top, lower, zero, coolant, good) =>
        {
            var ranked = TubeCauses.Rank(new()
            {
                Fall = size, Change = Sudden, Top = new(top.Item1, top.Item2, top.Item3, top.Item4), Lower = new(lower.Item1, lower.Item2, lower.Item3, lower.Item4),
                ZeroShift = (zero, 0.1), CoolantCelsius = 25, CoolantAtBaselineCelsius = 20, CoolantEffect = coolant, TestCutGood = good,
            });
            Assert.Equal(7, ranked.Count);
            Assert.Equal(1, ranked.Sum(c => c.Weight), 9);
            Assert.All(ranked, c => Assert.True(c.Weight > 0));
        });
    }

    private static TubeCause First(TubeSymptoms symptoms) => TubeCauses.Rank(symptoms)[0].Cause;

    private static double Weight(IReadOnlyList<RankedTubeCause> ranked, TubeCause cause) => ranked.Single(c => c.Cause == cause).Weight;
}
