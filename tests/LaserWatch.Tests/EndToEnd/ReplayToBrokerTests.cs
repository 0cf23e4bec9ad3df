using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.EndToEnd;

/// <summary><c>laserwatch replay --to</c> towards a real mosquitto; what comes is what <c>mosquitto_sub</c> says.</summary>
public sealed class ReplayToBrokerTests : IDisposable
{
    private static readonly Instant First = new(1_773_041_400_000_000_000); // 2026-03-09T07:30:00Z

    private readonly string _folder = Directory.CreateTempSubdirectory("lw-replay").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableFact]
    public async Task At_high_speed_all_of_it_comes_in_order_and_the_times_end_now()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/#");
        var path = Write(Seconds(600, i => $"power={i}"));
        var began = Instant.From(TimeProvider.System.GetUtcNow());

        var (exit, output, error) = await AgentProcess.RunAsync("replay", path, "--to", Url(broker), "--speed", "1000");

        Assert.Equal((0, $"published 600 message(s) to 127.0.0.1:{broker.Port} below training/laserwatch\n", ""), (exit, output, error));
        await RealBroker.UntilAsync(() => heard.Lines.Count >= 600, $"not all came: {heard.Lines.Count}");
        var messages = heard.Lines.Select(Message.Read).ToList();
        Assert.Equal(Enumerable.Range(0, 600).Select(i => (double)i), messages.Select(m => m.Value));
        Assert.All(messages, m => Assert.Equal("training/laserwatch/bay1/power", m.Topic));

        // The recording's own distances, and the last one when it was sent.
        Assert.All(messages.Zip(messages.Skip(1)), pair => Assert.Equal(1, pair.Second.Time.SecondsSince(pair.First.Time), 0.01));
        Assert.True(messages[^1].Time >= began && messages[^1].Time <= Instant.From(TimeProvider.System.GetUtcNow()));
    }

    [SkippableFact]
    public async Task As_fast_as_it_can_nothing_is_dropped_and_original_times_stay()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/mary/#");
        var path = Write(Seconds(20_000, i => $"power={i}"));

        var (exit, _, error) = await AgentProcess.RunAsync("replay", path, "--to", Url(broker) + "/training/mary", "--retime", "original");

        Assert.Equal(0, exit);
        Assert.Contains("an agent believes times of up to 7 days", error, StringComparison.Ordinal);
        await RealBroker.UntilAsync(() => heard.Lines.Count >= 20_000, $"not all came: {heard.Lines.Count}");
        Assert.Equal(
            Enumerable.Range(0, 20_000).Select(i => ("training/mary/laserwatch/bay1/power", (double)i, First + TimeSpan.FromSeconds(i))),
            heard.Lines.Select(Message.Read).Select(m => (m.Topic, m.Value, m.Time)));
    }

    private static string Url(RealBroker broker) => $"mqtt://127.0.0.1:{broker.Port}";

    private static IEnumerable<string> Seconds(int count, Func<int, string> fields) => Enumerable.Range(0, count).Select(i =>
        string.Create(CultureInfo.InvariantCulture, $"telemetry,machine=bay1 {fields(i)} {First.UnixNanoseconds + (i * 1_000_000_000L)}"));

    private string Write(IEnumerable<string> lines)
    {
        var path = Path.Combine(_folder, "a.lp");
        File.WriteAllLines(path, lines);
        return path;
    }

    private sealed record Message(string Topic, double Value, Instant Time)
    {
        public static Message Read(string line)
        {
            var space = line.IndexOf(' ', StringComparison.Ordinal);
            using var json = System.Text.Json.JsonDocument.Parse(Encoding.UTF8.GetBytes(line[(space + 1)..]));
            Assert.True(Rfc3339.TryParse(json.RootElement.GetProperty("time").GetString(), out var time));
            return new(line[..space], json.RootElement.TryGetProperty("value", out var value) ? value.GetDouble() : double.NaN, time);
        }
    }
}
