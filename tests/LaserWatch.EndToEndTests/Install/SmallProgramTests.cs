using System.Diagnostics;
using System.Text.RegularExpressions;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;

namespace LaserWatch.Install;

/// <summary>The small build, compiled to native code beforehand, does what the plain build does, byte for byte. <c>LASERWATCH_SMALL</c> names it.</summary>
/// <remarks>What native compilation breaks it breaks silently: a record that lost its properties, a converter that was never made. So every verb is walked.</remarks>
public sealed partial class SmallProgramTests : IDisposable
{
    private static string Small => Needs.Published("LASERWATCH_SMALL");

    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-small-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableTheory]
    [InlineData]
    [InlineData("run")]
    [InlineData("demo")]
    [InlineData("check")]
    [InlineData("replay")]
    [InlineData("compare")]
    [InlineData("alarms")]
    [InlineData("alarms", "ack")]
    [InlineData("jobs")]
    [InlineData("jobs", "add")]
    [InlineData("service")]
    [InlineData("service", "add")]
    [InlineData("annotate")]
    [InlineData("record")]
    [InlineData("trend")]
    [InlineData("report")]
    [InlineData("verify")]
    [InlineData("diagnose")]
    [InlineData("case")]
    [InlineData("case", "new")]
    [InlineData("practise")]
    [InlineData("install")]
    [InlineData("uninstall")]
    [InlineData("password")]
    public Task The_help_of_every_verb_is_the_same(params string[] verb) => SameAsync([.. verb, "--help"]);

    [SkippableFact]
    public Task Every_setting_of_the_example_is_read() => SameAsync("check", "--offline", "--config", Path.Combine(Repository.Folder, "config", "laserwatch.json"));

    [SkippableFact]
    public Task Every_difference_of_two_configurations_is_found()
    {
        File.WriteAllText(Path.Combine(_folder, "b.json"), """
            {
              "rules": { "coolant": { "hotCelsius": 27 }, "airPressure": { "tolerance": 0.2 } },
              "machines": { "bay1": { "tube": { "installed": "2026-01-05", "ratedHours": 5000 }, "sensors": [ { "channel": "coolant_in", "calibration": [ { "kind": "linear", "raw1": 0, "value1": 0, "raw2": 10, "value2": 20 } ] } ] } }
            }
            """);
        return SameAsync("compare", "--case", "four-jobs", "--config", "b.json", "--differences", "--format", "json");
    }

    [SkippableFact]
    public async Task It_replays_stores_draws_records_reports_and_verifies()
    {
        await RunAsync("demo", "--write", "demo.lp.gz");
        await SameAsync("replay", "demo.lp.gz", "--alarms", "alarms.ndjson");
        await RunAsync("replay", "demo.lp.gz", "--store", "shop.db");
        await SameAsync("trend", "bay1", "coolant_in", "--store", "shop.db", "--format", "json");
        await SameAsync("diagnose", "bay1", "--recording", "demo.lp.gz", "--format", "json");
        await SameAsync("record", "bay1", "--store", "shop.db", "--out", "bay1.csv");
        await RunAsync("record", "bay1", "--store", "shop.db", "--out", "bay1.lp");
        await SameAsync("verify", "bay1.lp", "--format", "json");
        await RunAsync("report", "bay1", "--store", "shop.db", "--out", "bay1.html");
        await SameAsync("verify", "bay1.html", "--format", "json");
        await RunAsync("trend", "bay1", "coolant_in", "--store", "shop.db", "--plot", "trend.png");
        await RunAsync("record", "bay1", "--store", "shop.db", "--out", "bay1.parquet");

        Assert.Equal([0x89, (byte)'P', (byte)'N', (byte)'G'], File.ReadAllBytes(Path.Combine(_folder, "trend.png"))[..4]);
        Assert.Equal("PAR1"u8.ToArray(), File.ReadAllBytes(Path.Combine(_folder, "bay1.parquet"))[..4]);
    }

    [SkippableFact]
    public async Task Cases_are_listed_shown_and_practised_by_a_script()
    {
        File.WriteAllText(Path.Combine(_folder, "acts.txt"), "at 30 reading air_pressure\nat 60 give-up\n");
        await SameAsync("case", "list");
        await SameAsync("case", "show", "plywood-morning", "--answer");
        await SameAsync("practise", "plywood-morning", "--script", "acts.txt", "--log", "practice.ndjson");
    }

    [SkippableFact]
    public async Task Installing_it_needs_the_full_build_and_it_says_so()
    {
        var (exitCode, _, error) = await EndAsync(Small, ["install", "--root", "root", "--dry-run"]);

        Assert.Equal(2, exitCode);
        Assert.Contains("installing needs the full build", error, StringComparison.Ordinal);
        await SameAsync("install", "--root", "root", "--dry-run", "--program", Small);
    }

    [SkippableFact]
    public async Task It_hears_sensors_raises_the_alarm_stores_and_shows_that_it_is_well()
    {
        Needs.MosquittoClients();
        var port = RealBroker.FreePort();
        using var folder = new AgentFolder(embedded: port);
        var clients = new MosquittoClients(port);
        using var agent = AgentProcess.StartProgram(Small, "run", "--config", folder.Config);
        await agent.SaysAsync("The embedded broker listens");
        await clients.PublishAsync("laserwatch/bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", AgentFolder.TimedValues(120, _ => 150));
        await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"unacknowledged\"");
        var (exitCode, _, error) = await AgentProcess.RunAsync("alarms", "ack", "bay1", "air-pressure-low", "--by", "ana", "--config", folder.Config);
        Assert.True(exitCode == 0, error);
        await clients.RetainsAsync("laserwatch/bay1/alarm/air-pressure-low", "\"state\":\"acknowledged\"");
        var (stopped, took) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));

        Assert.Equal((0, 120), (stopped, await folder.CountAsync()));
        Assert.True(took < TimeSpan.FromSeconds(10), $"stopping took {took}");
    }

    /// <summary>The small program says what the plain build says, of both outputs and of every file named by <c>--out</c> or <c>--alarms</c>.</summary>
    private async Task SameAsync(params string[] arguments)
    {
        var small = await EndAsync(Small, arguments);
        var files = Files(arguments);
        var plain = await EndAsync(null, arguments);

        Assert.Equal((plain.ExitCode, WithoutPace(plain.Out), WithoutPace(plain.Error)), (small.ExitCode, WithoutPace(small.Out), WithoutPace(small.Error)));
        Assert.Equal(Files(arguments), files);
    }

    private static string WithoutPace(string said) => Pace().Replace(said, "");

    [GeneratedRegex("in [0-9.]+ s: [0-9]+ a second")]
    private static partial Regex Pace();

    private async Task RunAsync(params string[] arguments)
    {
        var ended = await EndAsync(Small, arguments);
        Assert.True(ended.ExitCode == 0, $"{string.Join(' ', arguments)}: {ended}");
    }

    private List<string> Files(string[] arguments) =>
        [.. arguments.Zip(arguments.Skip(1)).Where(pair => pair.First is "--out" or "--alarms").Select(pair => File.ReadAllText(Path.Combine(_folder, pair.Second)))];

    private Task<(int ExitCode, string Out, string Error)> EndAsync(string? program, string[] arguments)
    {
        ProcessStartInfo start = program is null
            ? new("dotnet", [Path.Combine(AppContext.BaseDirectory, "laserwatch.dll"), .. arguments])
            : new(program, arguments);
        start.WorkingDirectory = _folder;
        return EndedProgram.RunAsync(start, TimeSpan.FromMinutes(3));
    }
}
