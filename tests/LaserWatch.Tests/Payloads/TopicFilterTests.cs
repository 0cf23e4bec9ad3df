namespace LaserWatch.Payloads;

public class TopicFilterTests
{
    // MQTT 5.0 section 4.7, its non-normative examples (memory).
    [Theory]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1", true)]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1/ranking", true)]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true)]
    [InlineData("sport/tennis/player1/#", "sport/tennis/player10", false)]
    [InlineData("sport/#", "sport", true)]
    [InlineData("sport/tennis/+", "sport/tennis/player1", true)]
    [InlineData("sport/tennis/+", "sport/tennis/player1/ranking", false)]
    [InlineData("sport/+", "sport", false)]
    [InlineData("sport/+", "sport/", true)]
    [InlineData("+/+", "/finance", true)]
    [InlineData("/+", "/finance", true)]
    [InlineData("+", "/finance", false)]
    [InlineData("#", "$SYS/monitor/Clients", false)]
    [InlineData("+/monitor/Clients", "$SYS/monitor/Clients", false)]
    [InlineData("$SYS/#", "$SYS/monitor/Clients", true)]
    [InlineData("$SYS/monitor/+", "$SYS/monitor/Clients", true)]
    [InlineData("a/b", "a/b", true)]
    [InlineData("a/b", "a/B", false)]
    [InlineData("a/b", "a/b/", false)]
    [InlineData("a/+/c", "a/b/c", true)]
    [InlineData("a/+/c", "a//c", true)]
    [InlineData("#", "a/b/c", true)]
    public void A_filter_covers_what_MQTT_says(string filter, string topic, bool covered) =>
        Assert.Equal(covered, TopicFilter.Matches(filter, topic));

    [Theory]
    [InlineData("", "the topic is empty: give the topic the sensor publishes on")]
    [InlineData("a/b#", "topic 'a/b#': '+' and '#' must stand alone between slashes")]
    [InlineData("a+/b", "topic 'a+/b': '+' and '#' must stand alone between slashes")]
    [InlineData("a/#/b", "topic 'a/#/b': '#' must be the last level")]
    public void A_malformed_filter_is_named(string filter, string mistake) => Assert.Equal(mistake, TopicFilter.Mistake(filter));

    [Theory]
    [InlineData("#")]
    [InlineData("+/a/#")]
    [InlineData("a//b")]
    public void A_sound_filter_has_no_mistake(string filter) => Assert.Null(TopicFilter.Mistake(filter));
}
