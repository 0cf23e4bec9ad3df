using LaserWatch.EndToEnd;

namespace LaserWatch.Cli;

/// <summary>The verbs that ask or fill the store, in this process; no agent runs, and no broker.</summary>
public sealed class StoreVerbsTests : IDisposable
{
    private readonly AgentFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_record_that_was_added_is_listed_beside_those_of_the_jobs_file()
    {
        Assert.Equal((0, "", "1 record added; a running agent takes them up within ten seconds.\n"), await RunAsync(
            "jobs", "add", "felt-3-cut", "--air-pressure", "120", "--power", "30", "--mode", "raster", "--recorded", "2026-02-01"));

        var (exitCode, output, _) = await RunAsync("jobs", "list");
        Assert.Equal(0, exitCode);
        Assert.Equal(
            """
            job          recorded                  power %  speed mm/s  air kPa  tube mA  tolerance  mode    from   material
            birch-6-cut  2026-01-05T00:00:00.000Z       66                  210  18.2                vector  file   birch plywood 6 mm
            felt-3-cut   2026-02-01T00:00:00.000Z       30                  120                      raster  store

            """, output);

        (_, output, _) = await RunAsync("jobs", "list", "--format", "json");
        Assert.Contains("""{"job":"felt-3-cut","recordedAt":"2026-02-01T00:00:00.000Z","power":30,"airPressure":120,"mode":"raster"}""", output, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Records_of_a_jobs_file_and_of_a_recording_are_imported()
    {
        using var more = new AgentFolder();
        Assert.Equal(0, (await RunAsync("jobs", "import", Path.Combine(Path.GetDirectoryName(more.Config)!, "jobs.json"))).ExitCode);

        var recording = Path.Combine(Path.GetDirectoryName(more.Config)!, "cuts.lp");
        await File.WriteAllTextAsync(recording, "job_record,job=acrylic-3-cut power=48,air_pressure=60,mode=\"vector\" 1773014400000000000\n");
        Assert.Equal(0, (await RunAsync("jobs", "import", recording)).ExitCode);

        Assert.Contains("acrylic-3-cut", (await RunAsync("jobs", "list")).Out, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_record_without_settings_is_refused_in_one_line() =>
        Assert.Equal(
            (2, "", "laserwatch: a record without any setting says nothing: give at least --air-pressure or --tube-current.\n"),
            await RunAsync("jobs", "add", "felt-3-cut"));

    [Fact]
    public async Task Where_no_agent_is_the_broker_a_service_goes_to_the_store_and_is_listed()
    {
        var (exitCode, _, error) = await RunAsync(
            "service", "add", "bay1", "--part", "tube", "--action", "replaced", "--serial", "T-000002", "--field", "power=60");
        Assert.True(exitCode == 0, error);
        Assert.Contains("Written to the store", error, StringComparison.Ordinal);

        var (_, output, _) = await RunAsync("service", "list", "bay1");
        Assert.Contains("tube  replaced  T-000002        power=60", output, StringComparison.Ordinal);
        SentKeys.HoldIn((await RunAsync("service", "list", "bay1", "--format", "json")).Out);
    }

    [Fact]
    public async Task Without_a_store_alarms_says_so_in_one_line_and_ends_with_3()
    {
        var (exitCode, output, error) = await RunAsync("alarms");

        Assert.Equal((3, ""), (exitCode, output));
        Assert.Equal(1, error.Count(c => c == '\n'));
        Assert.Contains("There is no store at", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Check_offline_tells_of_configuration_and_store()
    {
        var (exitCode, output, _) = await RunAsync("check", "--offline");

        Assert.Equal(0, exitCode);
        Assert.Contains("laserwatch.json: good; 0 machines described, 1 job records", output, StringComparison.Ordinal);
        Assert.Contains("not there yet; the agent makes it at its first start", output, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Check_names_every_mistake_of_the_configuration_and_ends_with_2()
    {
        await File.WriteAllTextAsync(_folder.Config, """{ "brokr": {}, "store": { "keepSamplesDays": 0 } }""");

        var (exitCode, _, error) = await RunAsync("check", "--offline");

        Assert.Equal(2, exitCode);
        Assert.Contains("brokr", error, StringComparison.Ordinal);
        Assert.Contains("keepSamplesDays", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_command_to_an_agent_that_is_not_there_ends_with_3()
    {
        var (exitCode, _, error) = await RunAsync("alarms", "ack", "bay1", "air-pressure-low", "--by", "night shift");

        Assert.Equal(3, exitCode);
        Assert.Contains("No connection to the broker 127.0.0.1:1", error, StringComparison.Ordinal);
    }

    private async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        var exitCode = await Program.RunAsync([.. arguments, "--config", _folder.Config], output, error);
        return (exitCode, output.ToString(), error.ToString());
    }
}
