using LaserWatch.Alarms;
using LaserWatch.Rules;

namespace LaserWatch.Diagnosis;

public class AlarmCausesTests
{
    [Theory]
    [InlineData("kink", "kink 1")]
    [InlineData("kink 0.7, leak 0.2", "kink 0.7|leak 0.2")]
    [InlineData("Kink (60 %); compressor 25 %", "kink 0.6|compressor 0.25")]
    [InlineData("supply lost, leak, kink", "supply-lost 1|leak 0.5|kink 0.25")]
    [InlineData("", "")]
    public void Names_come_in_rank_with_their_weights(string text, string expected)
    {
        var causes = AlarmCauses.Of([new Evidence("recorded", 210), new Evidence("cause_weights", text)]);

        Assert.Equal(expected, string.Join('|', causes.Select(c => FormattableString.Invariant($"{c.Name} {c.Weight}"))));
    }

    [Fact]
    public void Numbers_named_by_the_cause_do_as_well_and_so_does_the_first_cause_alone()
    {
        Assert.Equal([("weak-pump", 0.7), ("sensor", 0.2)], AlarmCauses.Of([new Evidence("cause", "weak-pump"), new Evidence("weight_weak_pump", 0.7), new Evidence("weight_sensor", 0.2)]));
        Assert.Equal([("weak-pump", 1.0)], AlarmCauses.Of([new Evidence("cause", "weak-pump")]));
        Assert.Empty(AlarmCauses.Of([new Evidence("recorded", 210)]));
    }

    [Fact]
    public void Every_name_by_which_the_rules_rank_causes_is_known_to_the_table()
    {
        string[] known = [.. CauseModels.BuiltIn.Causes.SelectMany(c => c.AlarmCauses.Append(c.Id))];
        string[] ranked =
        [
            AirCauses.SupplyLoss, AirCauses.KinkUpstream, AirCauses.FilterClogged, AirCauses.Leak, AirCauses.NozzleObstructed, AirCauses.NozzleMissing,
            AirCauses.RegulatorSet, AirCauses.SawtoothCompressor, .. Enum.GetValues<TubeCause>().Select(c => new RankedTubeCause(c, 1).Name),
        ];

        Assert.Empty(ranked.Except(known));
    }
}
