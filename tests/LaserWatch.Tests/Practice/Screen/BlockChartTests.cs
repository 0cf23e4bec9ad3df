namespace LaserWatch.Practice.Screen;

public class BlockChartTests
{
    [Fact]
    public void One_line_has_eight_steps() =>
        Assert.Equal(["▁▂▃▄▅▆▇█ █"], BlockChart.Lines([0, 1, 2, 3, 4, 5, 6, 7, null, 99], 0, 7, 1, ascii: false));

    [Fact]
    public void Two_lines_have_sixteen() =>
        Assert.Equal(["   ▁█", "▁▄███"], BlockChart.Lines([0, 3, 7, 8, 15], 0, 15, 2, ascii: false));

    [Fact]
    public void Ascii_says_the_same() =>
        Assert.Equal(["_.-=+*%#"], BlockChart.Lines([0, 1, 2, 3, 4, 5, 6, 7], 0, 7, 1, ascii: true));

    [Fact]
    public void Noise_is_not_drawn_as_an_event_and_the_recorded_value_is_in_the_picture()
    {
        var (low, high) = BlockChart.Scale([209.8, null, 210.2], null);
        Assert.Equal(21, high - low, 1);
        Assert.Equal((150, 210), BlockChart.Scale([150, 152], 210));
        Assert.Equal((0, 1), BlockChart.Scale([null], null));
    }
}
