using System.Text.Json.Nodes;
using LaserWatch.EndToEnd;
using LaserWatch.Mqtt;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Install;

/// <summary>The whole way under a folder, with programs as processes: installed, run from there, upgraded, uninstalled.</summary>
public sealed class StagedInstallationTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-staged-").FullName;

    private string Root => Path.Combine(_folder, "root");

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableFact]
    public async Task Installed_run_upgraded_and_run_again_the_stored_samples_and_the_configuration_are_the_shops()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        Needs.MosquittoClients();
        var port = RealBroker.FreePort();
        var clients = new MosquittoClients(port);

        await InstallAsync("first");
        AdaptConfiguration(port);
        using (var agent = AgentProcess.StartProgram(At("opt/laserwatch/laserwatch"), "run", "--config", At("etc/laserwatch/laserwatch.json")))
        {
            await agent.SaysAsync("The embedded broker listens");
            await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", ["210.5"]);
            await clients.PublishLinesAsync("laserwatch/bay1/coolant_in", ["20.5"]);
            await Eventually.HoldsAsync(async () => await CountAsync() == 2, () => "both samples are stored");
            await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        }

        var shopsOwn = File.ReadAllText(At("etc/laserwatch/laserwatch.json"));
        await InstallAsync("second");

        Assert.Equal(shopsOwn, File.ReadAllText(At("etc/laserwatch/laserwatch.json")));
        Assert.Contains("# second", File.ReadAllText(At("opt/laserwatch/laserwatch")), StringComparison.Ordinal);
        Assert.Contains("# first", File.ReadAllText(At("opt/laserwatch/laserwatch.previous")), StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFiles(Root, "*.new", SearchOption.AllDirectories));
        using (var agent = AgentProcess.StartProgram(At("opt/laserwatch/laserwatch"), "run", "--config", At("etc/laserwatch/laserwatch.json")))
        {
            await agent.SaysAsync("Machines known: 1;");
            await agent.SaysAsync("The embedded broker listens");
            await clients.PublishLinesAsync("laserwatch/bay1/air_pressure", ["210.7"]);
            await Eventually.HoldsAsync(async () => await CountAsync() == 3, () => "the new sample stands beside the old ones");
            await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        }

        Assert.NotEmpty(Directory.EnumerateFiles(At("var/log/laserwatch"), "laserwatch-*.log"));

        var (exit, _, said) = await AgentProcess.RunAsync("uninstall", "--root", Root);
        Assert.True(exit == 0, said);
        Assert.Contains("kept: data and the key of its proofs in /var/lib/laserwatch", said, StringComparison.Ordinal);
        Assert.Equal(3, await CountAsync());
        Assert.False(Directory.Exists(At("opt/laserwatch")));
        Assert.False(File.Exists(At("etc/systemd/system/laserwatch.service")));
        Assert.False(Path.Exists(At("usr/local/bin/laserwatch")));
        Assert.True(File.Exists(At("etc/laserwatch/laserwatch.json")));

        (exit, _, said) = await AgentProcess.RunAsync("uninstall", "--root", Root, "--purge");
        Assert.Equal((2, true), (exit, said.Contains("give --yes", StringComparison.Ordinal)));
        (exit, _, said) = await AgentProcess.RunAsync("uninstall", "--root", Root, "--purge", "--yes");
        Assert.True(exit == 0, said);
        Assert.Empty(Directory.EnumerateFiles(Root, "*", SearchOption.AllDirectories));
    }

    [SkippableFact]
    public async Task Over_the_store_of_a_newer_program_it_does_not_install_and_changes_nothing()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        await InstallAsync("first");
        await using (SqliteTelemetryStore.Open(new() { Path = At("var/lib/laserwatch/laserwatch.db") }))
        {
        }

        await using (var newer = new SqliteConnection($"Data Source={At("var/lib/laserwatch/laserwatch.db")};Pooling=false"))
        {
            await newer.OpenAsync();
            await using var command = newer.CreateCommand();
            command.CommandText = "PRAGMA user_version = 99";
            await command.ExecuteNonQueryAsync();
        }

        var (exit, said) = await RunAsync("install", "--root", "", "--program", Program("second"));

        Assert.Equal(3, exit);
        Assert.Contains("was written by a newer program (its tables are version 99", said, StringComparison.Ordinal);
        Assert.Equal(1, said.Count(c => c == '\n'));
        Assert.Contains("# first", File.ReadAllText(At("opt/laserwatch/laserwatch")), StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_configuration_is_taken_over_with_the_files_that_stand_with_it()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        var own = Directory.CreateDirectory(Path.Combine(_folder, "own"));
        Directory.CreateDirectory(Path.Combine(own.FullName, "secrets"));
        File.WriteAllText(Path.Combine(own.FullName, "cuts.json"), """{ "jobs": [] }""");
        File.WriteAllText(Path.Combine(own.FullName, "secrets", "broker"), "hush\n");
        var config = Path.Combine(own.FullName, "shop.json");
        const string Text = """
            // the shop's own words
            { "jobsFile": "cuts.json", "broker": { "host": "broker", "user": "u", "password": { "file": "secrets/broker" } }, "store": { "path": "/srv/laser/store.db" } }
            """;
        File.WriteAllText(config, Text);

        var (exit, said) = await RunAsync("install", "--root", "", "--program", Program("first"), "--config", config);

        Assert.True(exit == 0, said);
        Assert.Equal(Text, File.ReadAllText(At("etc/laserwatch/laserwatch.json")));
        Assert.Equal("hush\n", File.ReadAllText(At("etc/laserwatch/secrets/broker")));
        Assert.True(File.Exists(At("etc/laserwatch/cuts.json")));
        Assert.False(File.Exists(At("etc/laserwatch/jobs.json")));
        Assert.Contains("ReadWritePaths=/srv/laser\n", File.ReadAllText(At("etc/systemd/system/laserwatch.service")), StringComparison.Ordinal);

        (exit, said) = await RunAsync("install", "--root", "", "--program", Program("second"));
        Assert.True(exit == 0, said);
        Assert.Equal(Text, File.ReadAllText(At("etc/laserwatch/laserwatch.json")));
        Assert.Contains("ReadWritePaths=/srv/laser\n", File.ReadAllText(At("etc/systemd/system/laserwatch.service")), StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_configuration_whose_store_would_lie_where_the_service_may_not_write_is_refused()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        var config = Path.Combine(_folder, "shop.json");
        File.WriteAllText(config, "{}");

        var (exit, said) = await RunAsync("install", "--root", "", "--program", Program("first"), "--config", config);

        Assert.Equal(2, exit);
        Assert.Equal(
            $"laserwatch: {config}: store.path is 'data/laserwatch.db', relative to the file; in /etc/laserwatch the service may not write. Set store.path to a full path, such as /var/lib/laserwatch/laserwatch.db.\n",
            said);
    }

    [SkippableTheory]
    [InlineData("--to", "/home/ana/bin", "cannot see")]
    [InlineData("--to", "/opt/laser watch", "letters, digits")]
    [InlineData("--program", "/nowhere/laserwatch", "there is no such file")]
    public async Task What_would_not_do_is_refused_in_one_line(string option, string value, string why)
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");

        var (exit, said) = await RunAsync("install", "--root", "", option, value);

        Assert.Equal(2, exit);
        Assert.Contains(why, said, StringComparison.Ordinal);
        Assert.Equal(1, said.Count(c => c == '\n'));
        Assert.False(Directory.Exists(Root));
    }

    [SkippableFact]
    public async Task A_dry_run_prints_the_steps_and_the_unit_and_touches_nothing()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        var output = new StringWriter { NewLine = "\n" };

        var exit = await LaserWatch.Program.RunAsync(["install", "--root", Root, "--program", Program("first"), "--dry-run"], output, TextWriter.Null);

        Assert.Equal(0, exit);
        Assert.Contains("write    /etc/systemd/system/laserwatch.service, 0644\n", output.ToString(), StringComparison.Ordinal);
        Assert.EndsWith(SystemdUnit.Text(InstallLayout.Linux(), []), output.ToString(), StringComparison.Ordinal);
        Assert.False(Directory.Exists(Root));
    }

    [SkippableFact]
    public async Task Files_and_folders_have_the_rights_that_the_plan_says()
    {
        Skip.If(OperatingSystem.IsWindows(), "stages an installation for Linux");
        await InstallAsync("first");

        Assert.Equal("755", Rights("opt/laserwatch/laserwatch"));
        Assert.Equal("750", Rights("etc/laserwatch"));
        Assert.Equal("640", Rights("etc/laserwatch/laserwatch.json"));
        Assert.Equal("770", Rights("var/lib/laserwatch"));
        Assert.Equal("750", Rights("var/log/laserwatch"));
        Assert.Equal("644", Rights("etc/systemd/system/laserwatch.service"));
        Assert.Equal("/opt/laserwatch/laserwatch", new FileInfo(At("usr/local/bin/laserwatch")).LinkTarget);
    }

    private string At(string path) => Path.Combine(Root, path);

    private string Rights(string path) => OperatingSystem.IsWindows() ? "" : Convert.ToString((int)File.GetUnixFileMode(At(path)), 8);

    // The tests run a build of many files; this one starts it, and is told from the next by its comment.
    private string Program(string name)
    {
        var path = Path.Combine(_folder, name);
        File.WriteAllText(path, $"#!/bin/sh\n# {name}\nexec dotnet '{Path.Combine(AppContext.BaseDirectory, "laserwatch.dll")}' \"$@\"\n");
        return path;
    }

    private async Task InstallAsync(string program)
    {
        var (exit, said) = await RunAsync("install", "--root", "", "--program", Program(program));
        Assert.True(exit == 0, said);
        Assert.Contains("no user is made", said, StringComparison.Ordinal);
    }

    private async Task<(int ExitCode, string Said)> RunAsync(params string[] arguments)
    {
        arguments[2] = Root;
        var error = new StringWriter { NewLine = "\n" };
        var exit = await LaserWatch.Program.RunAsync(arguments, TextWriter.Null, error);
        return (exit, error.ToString());
    }

    // The paths are those of an installed machine; here they stand under a folder. And the port must be free.
    private void AdaptConfiguration(int port)
    {
        var file = At("etc/laserwatch/laserwatch.json");
        var json = JsonNode.Parse(File.ReadAllText(file), null, new() { CommentHandling = System.Text.Json.JsonCommentHandling.Skip, AllowTrailingCommas = true })!;
        json["store"]!["path"] = Root + (string)json["store"]!["path"]!;
        json["log"]!["folder"] = Root + (string)json["log"]!["folder"]!;
        json["embeddedBroker"]!["port"] = port;
        File.WriteAllText(file, json.ToJsonString());
    }

    private async Task<long> CountAsync()
    {
        var path = At("var/lib/laserwatch/laserwatch.db");
        if (!File.Exists(path))
            return 0;
        await using var store = SqliteTelemetryStore.OpenForReading(path);
        return (await store.ReadExtentAsync("bay1", CancellationToken.None))?.Count ?? 0;
    }
}
