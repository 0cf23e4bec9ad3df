using CsCheck;
using LaserWatch.Statistics;

namespace LaserWatch.Rules;

public class WeightedCusumTests
{
    [Fact]
    public void With_every_weight_one_it_is_the_plain_cusum() => Gen.Double[-4, 4].Array[1, 60].Sample(samples =>
    {
        var plain = new Cusum(new CusumDesign(0.5, 4, 0, TwoSided: true));
        var weighted = new WeightedCusum(0.5, 4);
        foreach (var sample in samples)
        {
            var side = plain.Update(sample);
            Assert.Equal(side, weighted.Update(sample, 1));
            Assert.Equal(Math.Max(plain.Upper, plain.Lower), weighted.Highest, 1e-9);
            Assert.Equal((plain.UpperRun, plain.LowerRun), (weighted.UpperRun, weighted.LowerRun));
        }
    });

    [Fact]
    public void Errors_that_can_show_little_count_little()
    {
        var cusum = new WeightedCusum(1, 5);

        for (var i = 0; i < 1000; i++)
            Assert.Equal(CusumSide.None, cusum.Update(0.09, 0.1));
        Assert.Equal(0, cusum.Highest);

        Assert.Equal(CusumSide.None, cusum.Update(4, 1));
        Assert.Equal(CusumSide.Upper, cusum.Update(4, 1));
    }
}
