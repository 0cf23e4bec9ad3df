using LaserWatch.Models;
using LaserWatch.Physics;

namespace LaserWatch.Rules;

public class AirCausesTests
{
    private const double GoodPressure = 187.75;
    private const double GoodFlow = 60.7066;

    // Steady states computed by ISO 6358 (formula from memory): supply 2.0 bar(g), hose C = 1.0, b = 0.3, sensor, nozzle C = 0.35, b = 0.5, room.
    // Gauge pressure at the sensor in kPa, flow in L/min (ANR).
    [Theory]
    [InlineData("supply regulator 20 % low, set between runs", 149.38, 52.6480, AirOnset.BetweenRuns, "regulator-set")]
    [InlineData("supply 20 % low, coming down while cutting", 149.38, 52.6480, AirOnset.Gradual, "supply-loss")]
    [InlineData("compressor off, tank running down", 44.73, 28.2760, AirOnset.Gradual, "supply-loss")]
    [InlineData("hose kinked to 30 %", 110.16, 44.4113, AirOnset.Sudden, "kink-upstream")]
    [InlineData("hose kinked to 10 %", 17.94, 17.9093, AirOnset.Sudden, "kink-upstream")]
    [InlineData("nozzle half obstructed", 196.81, 31.3046, AirOnset.Sudden, "nozzle-obstructed")]
    [InlineData("nozzle half obstructed, over many runs", 196.81, 31.3046, AirOnset.Creeping, "nozzle-obstructed")]
    [InlineData("nozzle 90 % obstructed", 199.87, 6.3251, AirOnset.Unknown, "nozzle-obstructed")]
    [InlineData("nozzle fully blocked", 200.00, 0.0002, AirOnset.Gradual, "nozzle-obstructed")]
    [InlineData("nozzle missing", 88.77, 159.3267, AirOnset.Sudden, "nozzle-missing")]
    [InlineData("leak between supply and sensor", 157.58, 108.7413, AirOnset.Sudden, "leak")]
    [InlineData("leak, grown over many runs", 157.58, 108.7413, AirOnset.Creeping, "leak")]
    public void With_flow_the_likeliest_cause_is_the_true_one(string fault, double pressure, double flow, AirOnset onset, string cause)
    {
        var conductance = SonicConductance.OfNozzle(flow, pressure)!.Value / SonicConductance.OfNozzle(GoodFlow, GoodPressure)!.Value;

        var causes = AirCauses.Rank(new AirSignature(pressure / GoodPressure, conductance, onset, HasFlow: true));

        Assert.True(cause == causes[0].Name, $"{fault}: {AirCauses.Weights(causes)}");
        Assert.True(causes[0].Weight >= 0.5, $"{fault}: {AirCauses.Weights(causes)}");
    }

    [Fact]
    public void Without_flow_a_sudden_fall_leaves_several_causes_open_and_says_what_would_tell()
    {
        var seen = new AirSignature(110.16 / GoodPressure, null, AirOnset.Sudden);

        var causes = AirCauses.Rank(seen);

        Assert.Equal("kink-upstream", causes[0].Name);
        Assert.True(causes.Count >= 3 && causes[0].Weight < 0.85);
        var observation = AirCauses.ToldApartBy(causes, seen);
        Assert.Contains("regulator's own gauge", observation);
        Assert.Contains("a flow sensor, which this machine lacks", observation);
    }

    [Fact]
    public void A_small_rise_without_flow_is_a_nozzle_where_it_was_seen_to_rise_and_a_setting_where_it_began_so()
    {
        Assert.Equal("nozzle-obstructed", AirCauses.Rank(new AirSignature(1.05, null, AirOnset.Sudden))[0].Name);
        Assert.Equal("nozzle-obstructed", AirCauses.Rank(new AirSignature(1.05, null, AirOnset.Creeping))[0].Name);
        Assert.Contains(AirCauses.Rank(new AirSignature(1.05, null, AirOnset.BetweenRuns)), c => c.Name == "regulator-set" && c.Weight > 0.25);
    }

    [Fact]
    public void A_fall_that_the_known_sawtooth_explains_is_put_down_to_it() =>
        Assert.Equal("sawtooth-compressor", AirCauses.Rank(new AirSignature(0.92, null, AirOnset.Gradual, Swing: 0.08))[0].Name);

    [Fact]
    public void Weights_add_up_and_are_told_in_order()
    {
        var causes = AirCauses.Rank(new AirSignature(0.6, null, AirOnset.Sudden));

        Assert.Equal(1, causes.Sum(c => c.Weight), 0.1);
        Assert.Equal(causes.OrderByDescending(c => c.Weight).Select(c => c.Name), causes.Select(c => c.Name));
        Assert.StartsWith("kink-upstream 0.", AirCauses.Weights(causes));
        Assert.StartsWith("likeliest (", AirCauses.InWords(causes));
    }
}
