namespace LaserWatch.Life;

public class MillsRatioTests
{
    [Fact]
    public void Fewer_terms_far_out_give_the_very_same_bits()
    {
        for (var x = 2.0; x < 60; x += 0.003)
            Assert.Equal(MillsRatio.ByTerms(x, x < 3 ? 120 : 60), MillsRatio.At(x));
    }
}
