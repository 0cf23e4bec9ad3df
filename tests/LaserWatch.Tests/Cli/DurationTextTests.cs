namespace LaserWatch.Cli;

public class DurationTextTests
{
    [Theory]
    [InlineData("45s", 45)]
    [InlineData("30m", 1800)]
    [InlineData("8h", 28_800)]
    [InlineData("2d", 172_800)]
    [InlineData("1.5h", 5400)]
    [InlineData("PT30M", 1800)]
    [InlineData("pt30m", 1800)]
    [InlineData("P1DT2H", 93_600)]
    public void Short_and_ISO_8601_spellings_are_read(string text, double seconds)
    {
        Assert.True(DurationText.TryParse(text, out var duration));
        Assert.Equal(TimeSpan.FromSeconds(seconds), duration);
    }

    [Theory]
    [InlineData("")]
    [InlineData("30")]
    [InlineData("m")]
    [InlineData("-5m")]
    [InlineData("0m")]
    [InlineData("30 minutes")]
    [InlineData("PT0S")]
    [InlineData("99999999999d")]
    public void Anything_else_is_refused(string text) => Assert.False(DurationText.TryParse(text, out _));

    [Fact]
    public void What_is_sent_is_ISO_8601() => Assert.Equal("PT30M", DurationText.ToIso(TimeSpan.FromMinutes(30)));
}
