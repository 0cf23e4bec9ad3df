using System.Text;
using LaserWatch.Configuration;
using LaserWatch.Demo;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Recordings;

public sealed class RecordingPublisherTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-publish-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData("mqtt://127.0.0.1:1/laserwatch")]
    [InlineData("mqtt://127.0.0.1:1/trainings")]
    [InlineData("mqtt://127.0.0.1:1/training/%23")]
    [InlineData("http://127.0.0.1:1/training")]
    [InlineData("127.0.0.1")]
    public async Task Only_a_prefix_for_training_is_taken(string address) =>
        Assert.Equal(2, await Program.RunAsync(["replay", "none.lp", "--to", address], TextWriter.Null, TextWriter.Null));

    [Fact]
    public async Task A_recording_is_published_below_the_prefix_as_sensors_and_people_said_it()
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(30));
        var path = Path.Combine(_folder, "a.lp");
        await File.WriteAllTextAsync(
            path,
            """
            job_record,job=x power=1 1773041400000000000
            job_run,machine=bay1 event="start",job="x" 1773041400000000000
            telemetry,machine=bay1 power=66.5,coolant_in=20 1773041400250000000
            service,machine=bay1 part="lens",action="cleaned",outcome="good" 1773041401000000000
            job_run,machine=bay1 event="end",inferred=true 1773041402000000000
            """,
            patience.Token);
        await using var link = new EmbeddedBrokerLink(
            new ConfiguredEmbeddedBroker { Port = 0 }, "training/laserwatch", null, TimeProvider.System, NullLogger<EmbeddedBrokerLink>.Instance);
        var inbox = System.Threading.Channels.Channel.CreateUnbounded<RawMessage>();
        using var hangUp = new CancellationTokenSource();
        var running = link.RunAsync(inbox, hangUp.Token);
        while (!link.IsConnected)
            await Task.Delay(10, patience.Token);

        var (output, error) = (new StringWriter { NewLine = "\n" }, new StringWriter());
        var publishing = Program.RunAsync(["replay", path, "--to", $"mqtt://127.0.0.1:{link.Port}", "--retime", "original"], output, error, patience.Token);
        List<string> heard = [];
        while (heard.Count < 4)
        {
            var message = await inbox.Reader.ReadAsync(patience.Token);
            heard.Add($"{message.Topic} {Encoding.UTF8.GetString(message.Payload.Span)}");
            message.Acknowledge?.Invoke();
        }

        Assert.True(await publishing == 0, error.ToString());
        Assert.Equal(
            [
                """training/laserwatch/bay1/job {"event":"start","job":"x","time":"2026-03-09T07:30:00Z"}""",
                """training/laserwatch/bay1/power {"value":66.5,"time":"2026-03-09T07:30:00.25Z"}""",
                """training/laserwatch/bay1/coolant_in {"value":20,"time":"2026-03-09T07:30:00.25Z"}""",
                """training/laserwatch/bay1/service {"part":"lens","action":"cleaned","outcome":"good","time":"2026-03-09T07:30:01Z"}""",
            ],
            heard);
        Assert.Equal($"published 4 message(s) to 127.0.0.1:{link.Port} below training/laserwatch\n", output.ToString());
        await hangUp.CancelAsync();
        await running.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing | ConfigureAwaitOptions.ContinueOnCapturedContext);
    }

    [Fact]
    public async Task A_broker_that_is_not_there_is_exit_status_3()
    {
        var path = Path.Combine(_folder, "a.lp");
        await File.WriteAllTextAsync(path, "telemetry,machine=a power=1 1000000000");

        Assert.Equal(3, await Program.RunAsync(["replay", path, "--to", "mqtt://127.0.0.1:1"], TextWriter.Null, TextWriter.Null));
    }
}
