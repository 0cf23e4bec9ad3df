using CsCheck;
using LaserWatch.Configuration;
using LaserWatch.Payloads;

namespace LaserWatch.Mqtt;

public class ClientRightsTests
{
    private static readonly string[] Machines = ["bay1", "bay2"];
    private static readonly string[] Channels = ["air_pressure", "coolant_in", "power"];

    /// <summary>A sensor of one machine, one that both share, one that feeds two channels, and one that is calibrated on LaserWatch's own topic.</summary>
    private static readonly TopicRule[] Rules =
    [
        new() { Topic = "shop/bay1/air", Machine = "bay1", Channel = "air_pressure" },
        new() { Topic = "shop/room", Machine = "bay1", Channel = "coolant_in" },
        new() { Topic = "shop/room", Machine = "bay2", Channel = "coolant_in" },
        new() { Topic = "shop/two", Machine = "bay2", Channel = "air_pressure", ValuePointer = "/a" },
        new() { Topic = "shop/two", Machine = "bay2", Channel = "power", ValuePointer = "/b" },
        new() { Topic = "laserwatch/bay1/coolant_in", Channel = "coolant_in", Unit = "degF" },
    ];

    private static readonly string[] Universe =
    [
        .. from machine in Machines.Append("bay3")
           from last in Channels.Concat(["job", "service", "command", "status", "alarm", "alarm/coolant-hot", "alarm/a/b", "x/y"])
           select $"laserwatch/{machine}/{last}",
        .. Rules.Select(r => r.Topic).Distinct(),
        "laserwatch/_agent/status", "laserwatch/_agent/heartbeat", "laserwatch/status", "laserwatch", "elsewhere/bay1/power", "$SYS/broker", "$share/a/laserwatch/bay1/power", "/", "",
    ];

    private static readonly string[] Filters =
    [
        .. Universe.Where(t => t.Length > 0), "#", "+", "+/+/+", "laserwatch/#", "laserwatch/+/+", "laserwatch/+/#", "laserwatch/+/alarm/+", "laserwatch/+/alarm/#",
        "laserwatch/bay1/#", "laserwatch/bay1/+", "laserwatch/bay1/alarm/+", "laserwatch/+/status", "laserwatch/_agent/#", "shop/#", "shop/+", "$SYS/#", "+/bay1/status", "laserwatch/bay1/alarm/#/x",
    ];

    private static readonly Gen<ConfiguredClient> AnyClient = Gen.Select(
        Gen.Bool.Array[2], Gen.Bool.Array[3], Gen.Bool.Array[4], Gen.Int[0, 2],
        (machines, channels, may, read) => new ConfiguredClient
        {
            User = "x",
            Machines = [.. Machines.Where((_, i) => machines[i])],
            Channels = [.. Channels.Where((_, i) => channels[i])],
            MaySample = may[0],
            MayStartJobs = may[1],
            MayLogService = may[2],
            MayCommand = may[3],
            MayRead = (ClientReading)read,
        });

    [Fact]
    public void A_client_may_publish_just_what_the_list_of_its_topics_says() => AnyClient.Sample(client =>
    {
        var rights = Of(client);
        var model = Publishable(client);
        foreach (var topic in Universe)
            Assert.True(model.Contains(topic) == rights.MayPublish(topic), $"{client}: {topic}");
    });

    [Fact]
    public void What_a_client_may_subscribe_to_brings_no_topic_that_it_may_not_read() => AnyClient.Sample(client =>
    {
        var rights = Of(client);
        var readable = Universe.Where(t => t.Length > 0 && MayRead(client, t)).ToHashSet();
        foreach (var filter in Filters.Where(rights.MaySubscribe))
        {
            var brings = Universe.Where(t => t.Length > 0 && TopicFilter.Matches(filter, t));
            Assert.True(brings.All(readable.Contains), $"{client}: {filter} brings {string.Join(", ", brings.Except(readable))}");
        }

        // And what it may read it can also ask for, topic by topic.
        foreach (var topic in readable)
            Assert.True(rights.MaySubscribe(topic), $"{client}: {topic}");
    });

    [Fact]
    public void A_shared_login_may_do_all_but_speak_as_the_agent_or_the_broker()
    {
        var shared = ClientRights.Shared("shop", new Topics("laserwatch"));

        Assert.All(
            Universe.Where(t => !t.StartsWith('$')), topic => Assert.Equal(!new Topics("laserwatch").IsOurs(topic), shared.MayPublish(topic)));
        Assert.False(shared.MayPublish("$SYS/broker"));
        Assert.True(shared.MaySubscribe("#"));
        Assert.Null(shared.Name);
    }

    [Fact]
    public void One_wide_filter_covers_another_only_where_every_topic_of_it_is_covered() =>
        Gen.Select(Gen.Int[0, Filters.Length - 1], Gen.Int[0, Filters.Length - 1]).Select((w, n) => (Filters[w], Filters[n])).Sample((wide, narrow) =>
        {
            if (TopicFilter.Mistake(wide) is not null || TopicFilter.Mistake(narrow) is not null || !TopicFilter.Covers(wide, narrow))
                return;
            foreach (var topic in Universe.Where(t => t.Length > 0 && TopicFilter.Matches(narrow, t)))
                Assert.True(TopicFilter.Matches(wide, topic), $"{wide} {narrow} {topic}");
        });

    private static ClientRights Of(ConfiguredClient client) => ClientRights.Of(client, new Topics("laserwatch"), Rules);

    /// <summary>The model: all topics that are allowed, written out.</summary>
    private static HashSet<string> Publishable(ConfiguredClient client)
    {
        string[] channels = client.MaySample ? client.Channels.Count > 0 ? [.. client.Channels] : Channels : [];
        var topics = new HashSet<string>();
        foreach (var machine in Machines.Append("bay3").Where(m => client.Machines.Count == 0 || client.Machines.Contains(m)))
        {
            topics.UnionWith(channels.Select(c => $"laserwatch/{machine}/{c}"));
            if (client.MayStartJobs)
                topics.Add($"laserwatch/{machine}/job");
            if (client.MayLogService)
                topics.Add($"laserwatch/{machine}/service");
            if (client.MayCommand)
                topics.Add($"laserwatch/{machine}/command");
        }

        bool Feeds(string machine, string channel) => channels.Contains(channel) && (client.Machines.Count == 0 || client.Machines.Contains(machine));
        if (Feeds("bay1", "air_pressure"))
            topics.Add("shop/bay1/air");
        if (Feeds("bay1", "coolant_in") && Feeds("bay2", "coolant_in"))
            topics.Add("shop/room");
        if (Feeds("bay2", "air_pressure") && Feeds("bay2", "power"))
            topics.Add("shop/two");
        return topics;
    }

    private static bool MayRead(ConfiguredClient client, string topic)
    {
        var mine = client.Machines.Count == 0 ? Machines.Append("bay3").ToArray() : [.. client.Machines];
        var alarms = client.MayCommand || client.MayRead != ClientReading.Nothing;
        if (topic.StartsWith("laserwatch/_agent/", StringComparison.Ordinal))
            return alarms;
        if (mine.FirstOrDefault(m => topic.StartsWith($"laserwatch/{m}/", StringComparison.Ordinal)) is { } machine)
        {
            var rest = topic[$"laserwatch/{machine}/".Length..];
            return client.MayRead == ClientReading.Everything || (alarms && (rest is "status" or "alarm" || rest.StartsWith("alarm/", StringComparison.Ordinal)));
        }

        if (client.MayRead != ClientReading.Everything)
            return false;
        if (client.Machines.Count == 0 && (topic is "laserwatch" || topic.StartsWith("laserwatch/", StringComparison.Ordinal)))
            return true;
        return topic switch
        {
            "shop/bay1/air" => mine.Contains("bay1"),
            "shop/room" => mine.Contains("bay1") || mine.Contains("bay2"),
            "shop/two" => mine.Contains("bay2"),
            _ => false,
        };
    }
}
