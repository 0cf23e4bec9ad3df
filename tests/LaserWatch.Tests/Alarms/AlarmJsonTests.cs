using System.Text;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public class AlarmJsonTests
{
    private static readonly AlarmChange Low = new(
        new Instant(1773041460250000000), "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, 189.5, "kPa",
        "birch-6-cut", "Air pressure 151 kPa, \"birch\" needs 210 kPa", [new("recorded", 210), new("seen for", "2 s")],
        ["Look for a kinked hose", "Look at the compressor"]);

    private static void AssertSame(AlarmChange expected, AlarmChange actual)
    {
        Assert.Equal(expected with { Evidence = [], Checks = [] }, actual with { Evidence = [], Checks = [] });
        Assert.Equal(expected.Evidence, actual.Evidence);
        Assert.Equal(expected.Checks, actual.Checks);
    }

    [Fact]
    public void Members_stand_in_the_order_of_the_interface() => Assert.Equal(
        """{"time":"2026-03-09T07:31:00.25Z","machine":"bay1","condition":"air-pressure-low","state":"unacknowledged","priority":"high","value":151,"limit":189.5,"unit":"kPa","job":"birch-6-cut","message":"Air pressure 151 kPa, \"birch\" needs 210 kPa","evidence":{"recorded":210,"seen for":"2 s"},"checks":["Look for a kinked hose","Look at the compressor"]}""",
        Encoding.UTF8.GetString(AlarmJson.ToUtf8(Low)));

    [Fact]
    public void What_is_not_known_is_null_and_who_did_it_comes_last() => Assert.Equal(
        """{"time":"1970-01-01T00:00:00Z","machine":"a","condition":"tube-life","state":"acknowledged","priority":"low","value":null,"limit":null,"unit":"","job":null,"message":"°C","evidence":{"when":null},"checks":[],"by":"the one on shift"}""",
        Encoding.UTF8.GetString(AlarmJson.ToUtf8(new AlarmChange(
            default, "a", Conditions.TubeLife, AlarmState.Acknowledged, AlarmPriority.Low, null, double.PositiveInfinity, "", null, "°C",
            [new("when", double.NaN)], [], "the one on shift"))));

    [Fact]
    public void What_is_written_is_read_back()
    {
        foreach (var change in new[] { Low, Low with { Value = null, Job = null, By = "x", State = AlarmState.ReturnedUnacknowledged, Evidence = [] } })
        {
            Assert.True(AlarmJson.TryRead(AlarmJson.ToUtf8(change), out var back, out var mistake), mistake);
            AssertSame(change, back!);
        }
    }

    [Theory]
    [InlineData("", "not JSON")]
    [InlineData("[]", "not a JSON object")]
    [InlineData("{}", "\"time\" is not a time")]
    [InlineData("""{"time":"1970-01-01T00:00:00Z"}""", "\"machine\" is missing")]
    [InlineData("""{"time":"1970-01-01T00:00:00Z","machine":"a","condition":"b","state":"c"}""", "\"state\" is not")]
    [InlineData("""{"time":"1970-01-01T00:00:00Z","machine":"a","condition":"b","state":"normal","priority":1}""", "\"priority\" is not")]
    [InlineData("""{"time":"1970-01-01T00:00:00Z","machine":"a","condition":"b","state":"normal","priority":"low","evidence":[1]}""", "\"evidence\" is not")]
    [InlineData("""{"time":"1970-01-01T00:00:00Z","machine":"a","condition":"b","state":"normal","priority":"low","checks":[1]}""", "\"evidence\" is not an object of numbers and texts, or \"checks\"")]
    public void What_is_wrong_is_said(string json, string mistake)
    {
        Assert.False(AlarmJson.TryRead(Encoding.UTF8.GetBytes(json), out _, out var said));
        Assert.StartsWith(mistake, said, StringComparison.Ordinal);
    }
}
