using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

public class InfluxQlTests
{
    [Theory]
    [InlineData("series", "\"series\"")]
    [InlineData("a \"b\"", "\"a \\\"b\\\"\"")]
    [InlineData("back\\slash", "\"back\\\\slash\"")]
    public void A_name_is_quoted_always(string name, string quoted) => Assert.Equal(quoted, InfluxQl.Name(name));

    [Theory]
    [InlineData("bay1", "'bay1'")]
    [InlineData("x' OR '1'='1", "'x\\' OR \\'1\\'=\\'1'")]
    [InlineData("line\nbreak", "'line\\nbreak'")]
    public void A_text_cannot_end_its_quotes(string text, string quoted) => Assert.Equal(quoted, InfluxQl.Text(text));

    [Fact]
    public void The_bounds_of_a_call_are_those_that_the_server_can_hold()
    {
        Assert.Equal((5, 9), InfluxQl.Bounds(new Instant(5), new Instant(10)));
        Assert.Equal((InfluxQl.FirstTime, InfluxQl.LastTime), InfluxQl.Bounds(Instant.MinValue, Instant.MaxValue));
        var (first, last) = InfluxQl.Bounds(Instant.MinValue, Instant.MinValue);
        Assert.True(first > last);
    }
}
