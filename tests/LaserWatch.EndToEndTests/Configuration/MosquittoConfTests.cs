using LaserWatch.Mqtt;

namespace LaserWatch.Configuration;

public class MosquittoConfTests
{
    private const int MoreThanBrokersKeepByDefault = 3000;

    [SkippableFact]
    public async Task Mosquitto_takes_the_settings_and_keeps_for_an_agent_that_is_away_what_it_would_throw_away_by_default()
    {
        var settings = File.ReadLines(Path.Combine(Repository.Folder, "config", "mosquitto.conf")).Where(line => line.Length > 0 && line[0] != '#');
        await using var broker = await RealBroker.StartAsync([.. settings, "allow_anonymous true"]);
        string[] session = ["-h", "127.0.0.1", "-p", $"{broker.Port}", "-i", "agent", "-c", "-q", "1", "-t", "laserwatch/#"];

        using (var first = RealBroker.Start("mosquitto_sub", [.. session, "-E"]))
            await first.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
        var sent = Enumerable.Range(0, MoreThanBrokersKeepByDefault).Select(i => $"{i}").ToList();
        await broker.PublishLinesAsync("laserwatch/bay1/air_pressure", sent, 1);

        using var again = RealBroker.Start("mosquitto_sub", [.. session, "-C", $"{sent.Count}", "-W", "20"]);
        var got = await again.StandardOutput.ReadToEndAsync().WaitAsync(TimeSpan.FromSeconds(30));
        Assert.Equal(sent, got.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }
}
