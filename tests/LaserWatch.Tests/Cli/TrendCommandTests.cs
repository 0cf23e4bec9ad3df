using System.Text.Json;
using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Cli;

/// <summary>To write the golden files anew after a change of words, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public sealed class TrendCommandTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    private string Store => _folder.File("laserwatch.db");

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("trend-tube.txt", "tube_current", "--chart")]
    [InlineData("trend-tube-at-power.txt", "tube_current", "--power", "66", "--from", "2026-04-01")]
    [InlineData("trend-coolant.txt", "coolant_in")]
    [InlineData("trend-tube.csv", "tube_current", "--tube", "all", "--format", "csv")]
    [InlineData("trend-tube.json", "tube_current", "--power", "48", "--format", "json", "--to", "2026-03-24")]
    public async Task The_output_is_the_golden_file(string golden, params string[] arguments)
    {
        await FillAsync();

        var (exit, output, error) = await RunAsync(["trend", "bay1", .. arguments, "--store", Store]);

        Assert.Equal((0, ""), (exit, error));
        Golden(golden, output);
    }

    [Fact]
    public async Task Every_row_of_the_csv_has_the_headers_cells()
    {
        await FillAsync();

        var (_, output, _) = await RunAsync("trend", "bay1", "tube_current", "--power", "66", "--format", "csv", "--store", Store);

        var rows = output.Split("\r\n");
        Assert.Equal("", rows[^1]);
        Assert.Contains("health_ratio", rows[0], StringComparison.Ordinal);
        Assert.All(rows[..^1], row => Assert.Equal(rows[0].Split(',').Length, row.Split(',').Length));
    }

    [Fact]
    public async Task Json_is_one_object_with_a_trend_for_each_tube()
    {
        await FillAsync(twoTubes: true);

        var (_, output, _) = await RunAsync("trend", "bay1", "tube_current", "--tube", "all", "--format", "json", "--store", Store);

        using var json = JsonDocument.Parse(output);
        Assert.Equal(["T-000001", "T-000002"], json.RootElement.GetProperty("trends").EnumerateArray().Select(t => t.GetProperty("tube").GetProperty("serial").GetString()));
        Assert.Equal("the tube is out", json.RootElement.GetProperty("trends")[0].GetProperty("projection").GetProperty("refusal").GetString());
    }

    [Theory]
    [InlineData("table")]
    [InlineData("csv")]
    [InlineData("json")]
    public async Task Training_data_say_so_in_every_format_and_in_the_picture(string format)
    {
        await FillAsync();
        TrainingMark.Put(Store);
        var picture = _folder.File("t.svg");

        var (exit, output, error) = await RunAsync("trend", "bay1", "tube_current", "--format", format, "--plot", picture, "--store", Store);

        Assert.Equal(0, exit);
        Assert.Contains("bay1 (training)", output, StringComparison.Ordinal);
        Assert.Contains("none of this is of a real machine", error, StringComparison.Ordinal);
        Assert.Contains("bay1 (training)", await File.ReadAllTextAsync(picture), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_picture_is_written_as_its_name_says()
    {
        await FillAsync();

        foreach (var name in (string[])["trend.png", "trend.svg"])
        {
            var (exit, _, error) = await RunAsync("trend", "bay1", "tube_current", "--store", Store, "--plot", _folder.File(name), "--plot-size", "800x500");
            Assert.Equal((0, $"{_folder.File(name)}: 800 by 500\n"), (exit, error));
            Assert.StartsWith(name.EndsWith("svg", StringComparison.Ordinal) ? "<?xml" : "\uFFFDPNG", File.ReadAllText(_folder.File(name)), StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData(1, "tube 1, T-000001, in since 2026-03-09 has no steady beam at 50 % power in that time; it was judged at 48 %, 66 %.", "tube_current", "--power", "50")]
    [InlineData(1, "bay1 has no tube 7; there is tube 1, T-000001, in since 2026-03-09.", "tube_current", "--tube", "7")]
    [InlineData(1, "did you mean coolant_in? There is tube_current, power, lasing, coolant_in.", "coolant_im")]
    [InlineData(1, "has no beam-on samples of coolant_in in that time; widen --from and --to.", "coolant_in", "--from", "2027-01-01")]
    [InlineData(2, "--power is for tube_current alone", "coolant_in", "--power", "50")]
    [InlineData(2, "--tube is for tube_current alone", "coolant_in", "--tube", "1")]
    [InlineData(2, "--tube x: write a number from 1, or all.", "tube_current", "--tube", "x")]
    [InlineData(2, "--power is a percentage", "tube_current", "--power", "166")]
    [InlineData(2, "a picture is an .svg or a .png", "tube_current", "--plot", "trend.pdf")]
    [InlineData(2, "--plot-size 20x20: write width and height", "tube_current", "--plot", "trend.png", "--plot-size", "20x20")]
    [InlineData(2, "--from must be before --to", "tube_current", "--from", "2026-04-01", "--to", "2026-03-01")]
    public async Task What_cannot_be_told_is_one_line_and_an_exit_status(int status, string says, params string[] arguments)
    {
        await FillAsync();

        var (exit, output, error) = await RunAsync(["trend", "bay1", .. arguments, "--store", Store]);

        Assert.Equal((status, ""), (exit, output));
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Equal(1, error.Count(c => c == '\n'));
    }

    [Fact]
    public async Task A_machine_that_the_store_does_not_know_ends_with_3()
    {
        await FillAsync();

        var (exit, _, error) = await RunAsync("trend", "bay9", "tube_current", "--store", Store);

        Assert.Equal(3, exit);
        Assert.EndsWith("knows no machine 'bay9'; it knows bay1.\n", error, StringComparison.Ordinal);
    }

    private async Task FillAsync(bool twoTubes = false)
    {
        var shop = new TubeShop { MinutesOfRun = 10 }.Serve(0, "tube", "installed", "T-000001").Work(0, 30, day => 1 - (0.0015 * day))
            .Serve(32, "coolant", "changed", note: "distilled").Work(42, 50, day => 1 - (0.0015 * day));
        if (twoTubes)
            shop.Serve(50, "tube", "replaced", "T-000002").Work(50, 60, _ => 1);
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Store });
        await store.AppendAsync(shop.Batch(), CancellationToken.None);
    }

    private static void Golden(string name, string output)
    {
        var path = Path.Combine(Repository.Folder, "tests", "LaserWatch.Tests", "Cli", "Golden", name);
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(path, output);
        Assert.Equal(File.ReadAllText(path), output);
    }

    private static async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        var (output, error) = (new StringWriter { NewLine = "\n" }, new StringWriter { NewLine = "\n" });
        var exit = await Program.RunAsync(arguments, output, error);
        return (exit, output.ToString(), error.ToString());
    }
}
