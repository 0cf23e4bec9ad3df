using CsCheck;
using LaserWatch.Benchmarks;
using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

public class CusumBankTests
{
    private static readonly Gen<double[]> Samples = Gen.Double[-3, 3].Array[1, 60];

    /// <summary>Own simulation with 400 000 runs: k 0.25, 0.5, 1 with h 7.90, 4.7178, 2.4882.</summary>
    [Fact]
    public void Run_lengths_are_those_of_the_published_simulation()
    {
        var bank = new CusumBankDesign([new(0.25, 7.9, 0, false), new(0.5, 4.7178, 0, false), new(1, 2.4882, 0, false)]);
        var chart = Chart.Of(new CusumBank(bank));
        var rows = PublishedTable.Read("UnknownShiftDelays.csv").Rows.Where(row => row.Text("scheme").StartsWith("bank", StringComparison.Ordinal)).ToList();

        Assert.Equal(9, rows.Count);
        Assert.All(rows, row =>
        {
            var delay = RunLengths.Measure(chart, row.Number("shift_sigma"), runs: 4000, seed: 8);
            Assert.InRange(delay.Mean, row.Number("zero_state_delay") - 4 * delay.Error, row.Number("zero_state_delay") + 4 * delay.Error);
        });
    }

    [Theory]
    [InlineData(0.5, 2, 370, false)]
    [InlineData(0.5, 3, 370, true)]
    [InlineData(0.25, 4, 2000, false)]
    public void A_design_has_the_run_length_it_was_made_for(double least, double greatest, double wanted, bool twoSided)
    {
        var chart = Chart.Of(new CusumBank(CusumBankDesign.For(least, greatest, wanted, twoSided)));

        var measured = RunLengths.Measure(chart, 0, runs: 4000, seed: 9);

        Assert.InRange(measured.Mean / wanted, 0.94, 1.06);
    }

    [Fact]
    public void The_members_share_one_run_length_between_that_of_the_whole_and_their_number_times_it()
    {
        var bank = CusumBankDesign.For(0.5, 3, 1e6);
        var lengths = bank.Members.Select(member => member.RunLength(0)).ToList();

        Assert.Equal([0.25, 0.5, 1, 1.5], bank.Members.Select(member => member.ReferenceValue));
        Assert.All(lengths, length => Assert.Equal(lengths[0], length, 1e-6 * length));
        Assert.InRange(lengths[0], 1.5e6, 4e6);
    }

    [Fact]
    public void The_bank_alarms_when_one_of_its_members_does()
    {
        var designs = CusumBankDesign.For(0.5, 2, 50);

        Samples.Sample(samples =>
        {
            var bank = new CusumBank(designs);
            var members = designs.Members.Select(member => new Cusum(member)).ToList();
            foreach (var sample in samples)
            {
                var sides = members.Select(member => member.Update(sample)).ToList();
                var side = bank.Update(sample);
                Assert.Equal(sides.Any(its => its != CusumSide.None), side != CusumSide.None);
                Assert.Equal(members.Max(member => Math.Max(member.Upper, member.Lower) / member.Design.DecisionInterval),
                    Math.Max(bank.Foremost.Upper, bank.Foremost.Lower) / bank.Foremost.Design.DecisionInterval);
            }
        }, iter: 100);
    }

    [Fact]
    public void A_bank_taken_up_from_its_saved_state_goes_on_as_if_never_stopped()
    {
        var design = CusumBankDesign.For(0.5, 2, 50);

        Gen.Select(Samples, Samples).Sample((before, after) =>
        {
            var (first, second) = (new CusumBank(design), new CusumBank(design));
            foreach (var sample in before)
                first.Update(sample);
            Assert.True(StateVisitor.TryLoad(StateVisitor.Save(first.Visit), second.Visit));

            foreach (var sample in after)
                Assert.Equal((first.Update(sample), first.Foremost.Upper), (second.Update(sample), second.Foremost.Upper));
        }, iter: 100);
    }
}
