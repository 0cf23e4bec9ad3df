namespace LaserWatch.Mqtt;

public class TopicsTests
{
    [Theory]
    [InlineData("laserwatch/bay1/status", true)]
    [InlineData("laserwatch/bay1/alarm/coolant-hot", true)]
    [InlineData("laserwatch/bay1/alarm", true)]
    [InlineData("laserwatch/_agent/status", true)]
    [InlineData("laserwatch/_agent/flood", true)]
    [InlineData("laserwatch/bay1/flood", false)]
    [InlineData("laserwatch/bay1/air_pressure", false)]
    [InlineData("laserwatch/bay1/alarms", false)]
    [InlineData("laserwatch/bay1/command", false)]
    [InlineData("laserwatch/status", false)]
    [InlineData("other/bay1/status", false)]
    [InlineData("laserwatch", false)]
    public void The_agents_own_topics_are_known(string topic, bool ours) => Assert.Equal(ours, new Topics("laserwatch").IsOurs(topic));

    [Fact]
    public void A_root_of_several_levels_goes_before_all()
    {
        var topics = new Topics("shop/hall2");
        Assert.Equal(
            ("shop/hall2/bay1/status", "shop/hall2/bay1/alarm/coolant-hot", "shop/hall2/_agent/status"),
            (topics.Status("bay1"), topics.Alarm("bay1", "coolant-hot"), topics.AgentStatus));
        Assert.True(topics.IsOurs(topics.Status("bay1")));
    }
}
