using System.Diagnostics;
using LaserWatch.EndToEnd;

namespace LaserWatch.Install;

/// <summary>The one published file, as a machine without any SDK runs it. <c>LASERWATCH_PUBLISHED</c> names it.</summary>
public sealed class PublishedProgramTests : IDisposable
{
    private static string Published => Needs.Published("LASERWATCH_PUBLISHED");

    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-published-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableFact]
    public async Task It_stands_alone_in_its_folder()
    {
        await RunAsync("--version");

        Assert.Equal(["laserwatch"], Directory.EnumerateFileSystemEntries(Path.GetDirectoryName(Published)!).Select(Path.GetFileName));
    }

    [SkippableFact]
    public async Task It_stores_draws_reports_and_verifies()
    {
        await RunAsync("demo", "--write", "demo.lp.gz");
        Assert.Contains("event(s) kept", (await RunAsync("replay", "demo.lp.gz", "--store", "shop.db")).Error, StringComparison.Ordinal);
        await RunAsync("trend", "bay1", "coolant_in", "--store", "shop.db", "--plot", "trend.png");
        await RunAsync("trend", "bay1", "coolant_in", "--store", "shop.db", "--plot", "trend.svg");
        await RunAsync("record", "bay1", "--store", "shop.db", "--out", "bay1.parquet");
        await RunAsync("report", "bay1", "--store", "shop.db", "--out", "bay1.html");
        await RunAsync("verify", "bay1.html");

        Assert.Equal([0x89, (byte)'P', (byte)'N', (byte)'G'], File.ReadAllBytes(Path.Combine(_folder, "trend.png"))[..4]);
    }

    [SkippableFact]
    public async Task It_installs_itself_and_what_it_installed_checks_its_own_configuration()
    {
        await RunAsync("install", "--root", "root");
        var config = Path.Combine(_folder, "root", "etc", "laserwatch", "laserwatch.json");
        File.WriteAllText(config, File.ReadAllText(config).Replace("\"/var/", $"\"{_folder}/root/var/", StringComparison.Ordinal));

        var installed = Path.Combine(_folder, "root", "opt", "laserwatch", "laserwatch");
        var (_, output, _) = await RunAsync(installed, ["check", "--offline", "--config", config]);

        Assert.Contains("1 machines described, 4 job records", output, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task Its_demonstration_runs_to_its_end() =>
        Assert.Contains("messages were published, judged and stored", (await RunAsync("demo")).Out, StringComparison.Ordinal);

    private Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        return RunAsync(Published, arguments);
    }

    private async Task<(int ExitCode, string Out, string Error)> RunAsync(string program, string[] arguments)
    {
        var start = new ProcessStartInfo(program, arguments) { WorkingDirectory = _folder };
        start.Environment.Clear(); // no PATH, no home, no SDK
        start.Environment["DOTNET_BUNDLE_EXTRACT_BASE_DIR"] = Path.Combine(_folder, "native");
        var said = await EndedProgram.RunAsync(start, TimeSpan.FromMinutes(3));
        Assert.True(said.ExitCode == 0, $"{string.Join(' ', arguments)}: {said}");
        return said;
    }
}
