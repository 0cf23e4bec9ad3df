using LaserWatch.Benchmarks.Speed;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;

namespace LaserWatch.Pages;

/// <summary>The folders that a reader of the pages has, with two simulated years of one machine in the store; deleted with all in them.</summary>
public sealed class TwoYears : IAsyncLifetime
{
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-pages-").FullName;

    /// <summary>Where a page's commands run: the README's reader has an empty store, those of the other pages have used it for two years.</summary>
    public string FolderOf(string page) => Path.GetDirectoryName(Path.Combine(_folder, page == "README.md" ? "new" : "used", page))!;

    /// <summary>Programs that stand before those of the path: <c>laserwatch</c> is the one under test, and mosquitto's clients speak to its port.</summary>
    public string Programs => Path.Combine(_folder, "programs");

    public async Task InitializeAsync()
    {
        Directory.CreateDirectory(Programs);
        var port = Mqtt.RealBroker.FreePort();
        Configure("new", port);
        var settings = Configure("used", port);
        Write("laserwatch", $"exec dotnet '{Path.Combine(AppContext.BaseDirectory, "laserwatch.dll")}' \"$@\"");
        Write("mosquitto_pub", $"exec {Installed.Program("mosquitto_pub") ?? "mosquitto_pub"} -h 127.0.0.1 -p {port} \"$@\"");

        var recording = Path.Combine(_folder, "two-years.lp.gz");
        await RunAsync("demo", "--tube-life", "--write", recording);
        await RunAsync("replay", recording, "--config", settings, "--store");
    }

    public Task DisposeAsync()
    {
        Directory.Delete(_folder, recursive: true);
        return Task.CompletedTask;
    }

    private static async Task RunAsync(params string[] arguments)
    {
        var start = new System.Diagnostics.ProcessStartInfo("dotnet", [Path.Combine(AppContext.BaseDirectory, "laserwatch.dll"), .. arguments]);
        var ended = await EndedProgram.RunAsync(start, TimeSpan.FromMinutes(5));
        Assert.True(ended.ExitCode == 0, ended.Error);
    }

    private string Configure(string shop, int port)
    {
        var config = Directory.CreateDirectory(Path.Combine(_folder, shop, "config")).FullName;
        foreach (var file in Directory.EnumerateFiles(Path.Combine(Repository.Folder, "config")))
            File.Copy(file, Path.Combine(config, Path.GetFileName(file)));
        var settings = Path.Combine(config, "laserwatch.json");
        File.WriteAllText(settings, File.ReadAllText(settings)
            .Replace("\"port\": 1883,", $"\"port\": {port},", StringComparison.Ordinal)
            .Replace("\"port\": 18830,", "\"port\": 0,", StringComparison.Ordinal));
        return settings;
    }

    private void Write(string name, string line)
    {
        var path = Path.Combine(Programs, name);
        File.WriteAllText(path, $"#!/bin/sh\n{line}\n");
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
    }
}
