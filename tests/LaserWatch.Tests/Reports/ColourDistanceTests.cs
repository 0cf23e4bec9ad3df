namespace LaserWatch.Reports;

public class ColourDistanceTests
{
    /// <summary>Pairs of Sharma, Wu and Dalal 2005, table 1 (from memory): blues, which test the rotation, hues on both sides of 0°, and far pairs.</summary>
    [Theory]
    [InlineData(50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425)]
    [InlineData(50, 2.5, 0, 50, 0, -2.5, 4.3065)]
    [InlineData(50, 2.5, 0, 73, 25, -18, 27.1492)]
    [InlineData(50, 2.5, 0, 61, -5, 29, 22.8977)]
    [InlineData(50, 2.5, 0, 56, -27, -3, 31.9030)]
    [InlineData(50, 2.5, 0, 58, 24, 15, 19.4535)]
    [InlineData(60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644)]
    [InlineData(2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082)]
    public void Pairs_of_the_paper_are_as_far_apart_as_it_says(double l1, double a1, double b1, double l2, double a2, double b2, double far)
    {
        Assert.Equal(far, ColourDistance.Between((l1, a1, b1), (l2, a2, b2)), 5e-5);
        Assert.Equal(far, ColourDistance.Between((l2, a2, b2), (l1, a1, b1)), 5e-5);
    }

    [Fact]
    public void Red_and_green_of_one_lightness_are_far_apart_for_normal_sight_alone()
    {
        const string red = "#c04040", green = "#5c8030";

        Assert.True(ColourDistance.Between(red, green, ColourSight.Normal) > 40);
        Assert.True(ColourDistance.Between(red, green, ColourSight.WithoutGreen) < 15);
    }

    [Theory]
    [InlineData(ColourSight.WithoutRed)]
    [InlineData(ColourSight.WithoutGreen)]
    [InlineData(ColourSight.WithoutBlue)]
    public void White_is_white_to_all_eyes(ColourSight sight) => Assert.Equal(100, ColourDistance.Between("#000000", "#ffffff", sight), 0.01);
}
