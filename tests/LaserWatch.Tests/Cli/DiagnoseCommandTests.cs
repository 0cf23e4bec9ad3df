using System.Globalization;
using System.Text;
using System.Text.Json;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>To write the golden files anew after a change of words or weights, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public sealed class DiagnoseCommandTests : IDisposable
{
    private const long Start = 1_773_041_400; // 2026-03-09T07:30:00Z

    private readonly AgentFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("kink", "diagnose-kink.txt")]
    [InlineData("kink", "diagnose-kink-fed-back.txt", "--seen", "charred-edge,suddenly", "--ruled-out", "regulator", "--ruled-out", "compressor")]
    [InlineData("nozzle", "diagnose-nozzle-found.txt", "--found", "nozzle-dirty")]
    [InlineData("nozzle", "diagnose-nozzle.json", "--format", "json")]
    [InlineData("bare", "diagnose-bare.txt")]
    public async Task The_output_is_the_golden_file(string recording, string golden, params string[] arguments)
    {
        var (exit, output, error) = await RunAsync(["diagnose", "bay1", "--recording", Record(recording), .. arguments]);

        Assert.Equal((0, ""), (exit, error));
        Golden(golden, output);
    }

    [Fact]
    public async Task A_machine_of_which_nothing_is_known_is_ranked_by_the_table_alone_and_ends_with_1()
    {
        var (exit, output, error) = await RunAsync("diagnose", "bay9", "--recording", Record("kink"));

        Assert.Equal((1, "Nothing is known of 'bay9' (did you mean 'bay1'?); the ranking is the table's alone.\n"), (exit, error));
        Golden("diagnose-nothing-known.txt", output);
    }

    [Fact]
    public async Task No_line_is_wider_than_a_hundred_columns()
    {
        foreach (var recording in (string[])["kink", "nozzle", "bare"])
        {
            var (_, output, _) = await RunAsync("diagnose", "bay1", "--recording", Record(recording));
            Assert.All(output.Split('\n'), line => Assert.InRange(line.Length, 0, 100));
        }
    }

    [Fact]
    public async Task The_store_is_diagnosed_as_the_recording_is_and_nothing_is_written_to_it()
    {
        var recording = Record("nozzle");
        await FillAsync(recording);
        var before = File.ReadAllBytes(_folder.StorePath);

        var (exit, ofTheStore, error) = await RunAsync("diagnose", "bay1", "--format", "json", "--config", _folder.Config);
        var (_, ofTheRecording, _) = await RunAsync("diagnose", "bay1", "--format", "json", "--recording", recording);

        Assert.Equal((0, ""), (exit, error));
        Assert.Equal(before, File.ReadAllBytes(_folder.StorePath));
        Assert.Equal(Leading(ofTheRecording), Leading(ofTheStore));
    }

    [Fact]
    public async Task A_recording_can_be_looked_at_before_the_fault()
    {
        var before = (Instant.FromUnixSeconds(Start) + TimeSpan.FromSeconds(500)).ToString();
        var (exit, output, _) = await RunAsync("diagnose", "bay1", "--recording", Record("kink"), "--at", before);

        Assert.Equal(0, exit);
        Assert.DoesNotContain("too low", output, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("laserwatch: --seen: 'charred' is not a word of the table; 'laserwatch diagnose MACHINE --words' lists them.\n", "--seen", "charred")]
    [InlineData("laserwatch: --seen: 'chared-edge' is not a word of the table; did you mean 'charred-edge'?\n", "--seen", "chared-edge")]
    [InlineData("laserwatch: --ruled-out: 'lenses' is not a word of the table; did you mean 'lens'?\n", "--ruled-out", "lenses")]
    [InlineData("laserwatch: 'lens' is told both ways: leave it out on one side.\n", "--ruled-out", "lens", "--found", "lens")]
    [InlineData("laserwatch: --at needs --recording: the store is diagnosed as it stands now. See 'laserwatch diagnose --help'.\n", "--at", "2026-03-09")]
    [InlineData("laserwatch: Argument 'xml' not recognized. Must be one of:\n\t'table'\n\t'json' See 'laserwatch diagnose --help'.\n", "--format", "xml")]
    public async Task Bad_usage_ends_with_2(string line, params string[] arguments) =>
        Assert.Equal((2, "", line), await RunAsync(["diagnose", "bay1", .. arguments]));

    [Fact]
    public async Task Without_store_or_recording_it_says_so_in_one_line_and_ends_with_3()
    {
        var (exit, output, error) = await RunAsync("diagnose", "bay1", "--config", _folder.Config);
        Assert.Equal((3, ""), (exit, output));
        Assert.Contains("There is no store at", error, StringComparison.Ordinal);

        (exit, output, error) = await RunAsync("diagnose", "bay1", "--recording", "none.lp");
        Assert.Equal((3, ""), (exit, output));
        Assert.StartsWith("laserwatch: cannot read the recording none.lp: ", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_words_are_listed()
    {
        var (exit, output, _) = await RunAsync("diagnose", "bay1", "--words");

        Assert.Equal(0, exit);
        foreach (var word in (string[])["not-through", "charred-edge", "one-side-only", "only-at-one-corner", "weaker-everywhere", "comes-and-goes", "lens-dirty", "alignment (20 min)"])
            Assert.Contains(word, output, StringComparison.Ordinal);
    }

    private static (string Cause, double Weight)[] Leading(string json)
    {
        using var document = JsonDocument.Parse(json);
        return [.. document.RootElement.GetProperty("causes").EnumerateArray().Take(5).Select(c => (c.GetProperty("cause").GetString()!, Math.Round(c.GetProperty("weight").GetDouble(), 2)))];
    }

    private static void Golden(string name, string output)
    {
        var path = Path.Combine(Repository.Folder, "tests", "LaserWatch.Tests", "Cli", "Golden", name);
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(path)!);
            File.WriteAllText(path, output);
        }

        Assert.Equal(File.ReadAllText(path).ReplaceLineEndings("\n"), output);
    }

    private async Task FillAsync(string recording)
    {
        using var reader = Recordings.RecordingReader.Open(recording, new ChannelTable());
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.StorePath });
        var batch = new StoreBatch();
        while (reader.Read() is { } e)
        {
            foreach (var value in e.Values)
                batch.Samples.Add((e.Machine, new Sample(value.Channel, e.At, value.Value)));
            if (e.JobRun is { } run)
                batch.JobRuns.Add(run);
            if (e.JobRecord is { } record)
                batch.JobRecords.Add(record);
            if (e.Service is { } service)
                batch.ServiceEvents.Add(service);
        }

        await store.AppendAsync(batch, CancellationToken.None);
    }

    /// <summary>Three good runs and a bad one; of "bare" there is only the beam's own signal.</summary>
    private string Record(string kind)
    {
        var lines = new StringBuilder();
        Add($"job_record,job=birch-6-cut material=\"birch plywood 6 mm\",power=66,speed=11,air_pressure=210,tube_current=18.2,mode=\"vector\" {Start - 86400}");
        Add($"service,machine=bay1 part=\"mirrors\",action=\"cleaned\" {Start - (9 * 86400)}");
        Add($"service,machine=bay1 part=\"lens\",action=\"cleaned\" {Start - (2 * 86400)}");
        for (var run = 0; run < 4; run++)
        {
            var at = Start + (run * 300);
            if (kind != "bare")
                Add($"job_run,machine=bay1 event=\"start\",job=\"birch-6-cut\" {at}");
            for (var second = 0; second < 120; second++)
            {
                var (pressure, flow) = (run < 3, kind) switch
                {
                    (false, "kink") => (0.62, 0.75),
                    (false, "nozzle") => (1.048, 0.52),
                    _ => (1.0, 1.0),
                };
                var ripple = Math.Sin(second * 1.7);
                var on = second >= 3 ? 1 : 0;
                Add(kind == "bare" ? $"telemetry,machine=bay1 lasing={on} {at + second}"
                    : FormattableString.Invariant($"telemetry,machine=bay1 lasing={on},power={66 * on},tube_current={on * (18.2 + (0.1 * ripple)):0.00},air_pressure={(210 * pressure) + ripple:0.0},air_flow={(60 * flow) + (0.3 * ripple):0.0},coolant_in={19 + (0.1 * ripple):0.00},ambient_temperature=21,ambient_humidity=45 {at + second}"));
            }

            Add($"telemetry,machine=bay1 lasing=0 {at + 121}");
            if (kind != "bare")
                Add($"job_run,machine=bay1 event=\"end\" {at + 122}");
        }

        var path = Path.Combine(Path.GetDirectoryName(_folder.Config)!, kind + ".lp");
        File.WriteAllText(path, lines.ToString());
        return path;

        void Add(string line) => lines.Append(CultureInfo.InvariantCulture, $"{line}000000000\n");
    }

    private static async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        var exitCode = await Program.RunAsync(arguments, output, error);
        return (exitCode, output.ToString(), error.ToString());
    }
}
