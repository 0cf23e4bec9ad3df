using System.Text.Json;
using LaserWatch.History;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Cli;

public sealed class AnnotateCommandTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-annotate-").FullName;

    private string Store => Path.Combine(_folder, "store.db");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static async Task<(int Exit, string Output, string Error)> RunAsync(params string[] args)
    {
        var (output, error) = (new StringWriter { NewLine = "\n" }, new StringWriter { NewLine = "\n" });
        var exit = await Program.RunAsync(args, output, error);
        return (exit, output.ToString(), error.ToString());
    }

    private async Task<string> FillAsync()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Store });
        await store.AppendAsync(new TubeShop().Work(0, 5, _ => 1).Batch(), default);
        return Store;
    }

    private async Task<string> AnnotateAsync(string from, string to, params string[] more)
    {
        var (exit, output, error) = await RunAsync(["annotate", "bay1", "--from", from, "--to", to, "--store", Store, .. more]);
        Assert.Equal((0, ""), (exit, error));
        return output.Trim();
    }

    [Fact]
    public async Task What_is_annotated_is_listed_until_it_is_withdrawn_and_stays_in_the_log()
    {
        await FillAsync();
        var id = await AnnotateAsync("2026-03-10", "2026-03-11", "--as", "faulty", "--cause", "nozzle-dirty", "--note", "seen", "--by", "ann");

        Assert.Matches("^[0-9a-f]{8}$", id);
        var (_, listed, _) = await RunAsync("annotate", "bay1", "--list", "--format", "json", "--store", Store);
        SentKeys.HoldIn(listed);
        using (var json = JsonDocument.Parse(listed))
        {
            Assert.Equal(
                (id, "faulty", "2026-03-10T00:00:00Z", "2026-03-11T00:00:00Z", "nozzle-dirty", "seen", "ann"),
                (Text("id"), Text("as"), Text("from"), Text("to"), Text("cause"), Text("note"), Text("by")));
            string? Text(string name) => json.RootElement.GetProperty(name).GetString();
        }

        Assert.Equal(0, (await RunAsync("annotate", "bay1", "--remove", id, "--store", Store)).Exit);
        Assert.Equal((0, "", "bay1 has no annotations in that time.\n"), await RunAsync("annotate", "bay1", "--list", "--store", Store));
        await using var store = SqliteTelemetryStore.OpenForReading(Store);
        Assert.Equal(["faulty", "removed"], (await store.ReadServiceEventsAsync("bay1", Telemetry.Instant.MinValue, Telemetry.Instant.MaxValue, default)).Select(e => e.Action));
    }

    [Fact]
    public async Task A_trend_leaves_the_span_out()
    {
        await FillAsync();
        var (_, whole, _) = await RunAsync("trend", "bay1", "power", "--store", Store, "--format", "csv");
        await AnnotateAsync("2026-03-10", "2026-03-12", "--as", "ignore");
        var (_, left, _) = await RunAsync("trend", "bay1", "power", "--store", Store, "--format", "csv");

        Assert.Equal(Lines(whole).Where(line => !line.Contains("2026-03-10", StringComparison.Ordinal) && !line.Contains("2026-03-11", StringComparison.Ordinal)).Count(), Lines(left).Length);
        Assert.Equal(Lines(whole).Length - 2, Lines(left).Length);

        static string[] Lines(string text) => text.Split('\n', StringSplitOptions.RemoveEmptyEntries);
    }

    [Theory]
    [InlineData("say what to do: --from, --to and --as; --list; or --remove.")]
    [InlineData("--as needs the span: --from and --to.", "--as", "good")]
    [InlineData("--from must be before --to.", "--as", "good", "--from", "2026-03-10", "--to", "2026-03-10")]
    [InlineData("--cause goes with --as faulty.", "--as", "good", "--from", "2026-03-10", "--to", "2026-03-11", "--cause", "nozzle-dirty")]
    [InlineData("--as, --list and --remove are three things: give one.", "--as", "good", "--from", "2026-03-10", "--to", "2026-03-11", "--list")]
    public async Task Bad_usage_is_exit_status_2_and_one_line(string line, params string[] args) =>
        Assert.Equal((2, "", $"laserwatch: {line}\n"), await RunAsync(["annotate", "bay1", .. args]));

    [Fact]
    public async Task A_cause_that_nobody_knows_is_refused_with_the_nearest_one()
    {
        var (exit, output, error) = await RunAsync(
            "annotate", "bay1", "--as", "faulty", "--from", "2026-03-10", "--to", "2026-03-11", "--cause", "nozzle-dirt", "--store", Store);

        Assert.Equal((2, ""), (exit, output));
        Assert.Matches(@"^laserwatch: --cause nozzle-dirt: no such cause; did you mean [a-z-]+\?\n$", error);
    }

    [Fact]
    public async Task An_id_that_is_not_there_is_exit_status_1()
    {
        await FillAsync();
        Assert.Equal((1, "", "laserwatch: bay1 has no annotations.\n"), await RunAsync("annotate", "bay1", "--remove", "cafe0000", "--store", Store));
    }
}
