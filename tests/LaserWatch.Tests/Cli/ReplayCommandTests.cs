using System.Text.RegularExpressions;

namespace LaserWatch.Cli;

public sealed partial class ReplayCommandTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-replay-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private string Write(string name, string text)
    {
        var path = Path.Combine(_folder, name);
        File.WriteAllText(path, text);
        return path;
    }

    private static async Task<(int Exit, string Output, string Error)> RunAsync(params string[] args)
    {
        var (output, error) = (new StringWriter { NewLine = "\n" }, new StringWriter { NewLine = "\n" });
        var exit = await Program.RunAsync(args, output, error);
        return (exit, output.ToString(), error.ToString());
    }

    [Fact]
    public async Task A_recording_is_played_and_summed_up_and_what_was_left_out_is_told()
    {
        var path = Write(
            "a.lp",
            "job_record,job=x power=1 1000000000\ntelemetry,machine=a coolant_in=20,coolant_out=21 1000000000\ntelemetry,machine=b coolant_in=20,note=\"x\" 61000000000\n" +
            "job_run,machine=a event=\"start\" 61000000000\nweather sun=1 1\nnonsense\n");

        var (exit, output, error) = await RunAsync("replay", path);

        Assert.Equal(
            """
            samples   3 of 2 machine(s), in T s: N a second
            span      1970-01-01T00:00:01Z to 1970-01-01T00:01:01Z (0:01:00)
            events    1 job run(s), 1 job record(s), 0 service event(s); 0 run(s) worked out
            left out  1 line(s) not read, 1 line(s) of other measurements, 1 telemetry field(s) that are no numbers
            alarms    none

            """,
            Timing().Replace(output, "in T s: N a second"));
        Assert.Equal($"{path}: line 6 has no fields; skipped\n", error);
        Assert.Equal(0, exit);
    }

    [Fact]
    public async Task A_recording_that_is_not_there_is_exit_status_3_and_one_line()
    {
        var (exit, output, error) = await RunAsync("replay", Path.Combine(_folder, "none.lp"));

        Assert.Equal((3, ""), (exit, output));
        Assert.Matches(@"^laserwatch: cannot read the recording \S+none\.lp: [^\n]+\n$", error);
    }

    [Theory]
    [InlineData("laserwatch: Required argument missing for command: 'replay'. See 'laserwatch replay --help'.\n", "replay")]
    [InlineData("laserwatch: With --to, --speed is 0.1 to 1000. See 'laserwatch replay --help'.\n", "replay", "x", "--to", "mqtt://a", "--speed", "2000")]
    [InlineData("laserwatch: --retime, --control, --onto-live-topics and --although-live go with --to. See 'laserwatch replay --help'.\n", "replay", "x", "--control")]
    [InlineData("laserwatch: --although-live goes with --onto-live-topics: below training/ there is no live machine. See 'laserwatch replay --help'.\n", "replay", "x", "--to", "mqtt://a", "--although-live")]
    [InlineData("laserwatch: --to takes no user and password, which others on the machine could read: give them by --config, or by the environment's LASERWATCH_USER and LASERWATCH_PASSWORD. See 'laserwatch replay --help'.\n", "replay", "x", "--to", "mqtt://ana:secret@a")]
    [InlineData("laserwatch: --to publishes below 'training' only, so that a recording is never taken for live samples: write mqtt://HOST:PORT, or mqtt://HOST:PORT/training/NAME, or add --onto-live-topics.\n", "replay", "x", "--to", "mqtt://a/laserwatch")]
    [InlineData("laserwatch: --control reads standard input, and so does the recording -: write the recording to a file.\n", "replay", "-", "--to", "mqtt://a", "--control")]
    [InlineData("laserwatch: --speed must be above 0, and at most 1000000. See 'laserwatch replay --help'.\n", "replay", "x", "--speed", "0")]
    [InlineData("laserwatch: Unrecognized command or argument '--nonsense'. See 'laserwatch replay --help'.\n", "replay", "x", "--nonsense")]
    public async Task Bad_usage_is_exit_status_2_and_one_line(string line, params string[] args)
    {
        var (exit, output, error) = await RunAsync(args);

        Assert.Equal((2, "", line), (exit, output, error));
    }

    [Fact]
    public async Task A_configuration_with_mistakes_is_exit_status_2_and_tells_all_of_them()
    {
        var config = Write("laserwatch.json", """{ "brokr": {}, "storee": {} }""");

        var (exit, output, error) = await RunAsync("replay", Write("a.lp", ""), "--config", config);

        Assert.Equal((2, ""), (exit, output));
        Assert.Contains("brokr", error, StringComparison.Ordinal);
        Assert.Contains("storee", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_stop_ends_a_paced_replay_and_says_how_far_it_came()
    {
        using var stop = new CancellationTokenSource(TimeSpan.FromMilliseconds(300));
        var path = Write("a.lp", "telemetry,machine=a power=1 1000000000\ntelemetry,machine=a power=1 61000000000\ntelemetry,machine=a power=1 71000000000\n");
        var (output, error) = (new StringWriter(), new StringWriter());

        var exit = await Program.RunAsync(["replay", path, "--speed", "1"], output, error, stop.Token);

        Assert.Equal(1, exit);
        Assert.Contains("stopped after line 3", error.ToString(), StringComparison.Ordinal);
        Assert.Contains("samples", output.ToString(), StringComparison.Ordinal);
    }

    [GeneratedRegex(@"in [\d.]+ s: \d+ a second")]
    private static partial Regex Timing();
}
