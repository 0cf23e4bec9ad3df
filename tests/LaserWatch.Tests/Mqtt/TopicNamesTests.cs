using System.Text;
using CsCheck;

namespace LaserWatch.Mqtt;

public class TopicNamesTests
{
    private static readonly string[] Topics =
        ["laserwatch/bay1/air_pressure", "laserwatch/bay1/coolant_in", "laserwatch/bay2/air_pressure", "laserwatch/bay2/air_pressur", "halle/säge/strom", "工場/一号", "", new('x', 300)];

    [Fact]
    public void Whatever_came_before_a_topic_is_told_as_it_is_and_is_always_the_same_string() => Gen.Int[0, Topics.Length - 1].Array[1, 200].Sample(
        places =>
        {
            var names = new TopicNames();
            var told = new Dictionary<string, string>();
            foreach (var place in places)
            {
                var topic = names.Of(Encoding.UTF8.GetBytes(Topics[place]));
                Assert.Equal(Topics[place], topic);
                // One that is too long to be remembered is made each time.
                if (topic.Length <= 256)
                    Assert.Same(told.TryAdd(topic, topic) ? topic : told[topic], topic);
            }
        },
        iter: 1000);

    [Fact]
    public void Made_up_topics_without_end_are_told_too()
    {
        var names = new TopicNames();
        for (var i = 0; i < 25_000; i++)
        {
            Assert.Equal($"laserwatch/bay{i}/x", names.Of(Encoding.UTF8.GetBytes($"laserwatch/bay{i}/x")));
            Assert.Equal("laserwatch/bay1/air_pressure", names.Of("laserwatch/bay1/air_pressure"u8));
        }
    }
}
