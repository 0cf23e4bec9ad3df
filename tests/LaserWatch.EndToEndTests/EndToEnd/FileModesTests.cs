using System.Diagnostics;
using LaserWatch.Mqtt;

namespace LaserWatch.EndToEnd;

public sealed class FileModesTests
{
    [SkippableTheory]
    [InlineData("000")]
    [InlineData("022")]
    public async Task Whatever_the_mask_nobody_else_can_read_or_write_a_file_that_a_run_leaves(string mask)
    {
        Skip.If(OperatingSystem.IsWindows(), "Windows has no file modes; the folder's access list holds");
        Needs.MosquittoClients();
        var port = RealBroker.FreePort();
        using var folder = new AgentFolder();
        var place = Path.GetDirectoryName(folder.Config)!;
        File.WriteAllText(folder.Config, $$"""
            {
              "embeddedBroker": { "port": {{port}} },
              "store": { "path": "data/laserwatch.db" },
              "log": { "folder": "log" },
              "health": { "port": 0 }
            }
            """);
        var program = Path.Combine(AppContext.BaseDirectory, "laserwatch.dll");
        using (var agent = AgentProcess.StartProgram("sh", "-c", $"umask {mask}; exec dotnet '{program}' run --config '{folder.Config}'"))
        {
            await agent.SaysAsync("The embedded broker listens");
            await new MosquittoClients(port).PublishAsync("laserwatch/bay1/power", """{"value": 50, "time": "2026-11-20T08:00:00Z"}"""u8.ToArray(), "-r");
            Check("data/laserwatch.db-wal");
            await agent.TerminateAsync(TimeSpan.FromSeconds(20));
        }

        // The key and the log of a day that is over; made by a command, with the mask of whoever gives it.
        using (var report = AgentProcess.StartProgram("sh", "-c", $"umask {mask}; exec dotnet '{program}' report bay1 --out '{place}/bay1.html' --config '{folder.Config}'"))
            await report.EndsAsync();

        Check("data", "data/laserwatch.db", "data/laserwatch.retained.json");
        Assert.NotEmpty(Directory.EnumerateFiles(Path.Combine(place, "log")));
        Assert.NotEmpty(Directory.EnumerateFiles(Path.Combine(place, "data"), "*", SearchOption.AllDirectories));
        foreach (var own in new[] { "data", "log" })
        {
            foreach (var entry in Directory.EnumerateFileSystemEntries(Path.Combine(place, own), "*", SearchOption.AllDirectories).Prepend(Path.Combine(place, own)))
                Assert.True(ModeOf(entry).EndsWith('0'), $"{entry} has mode {ModeOf(entry)}");
        }

        void Check(params string[] expected)
        {
            foreach (var one in expected)
                Assert.True(Path.Exists(Path.Combine(place, one)), $"{one} is not there: the test proves nothing");
        }
    }

    [SkippableFact]
    public async Task A_secret_that_everybody_can_read_is_named_with_its_mode_and_the_mend()
    {
        Skip.If(OperatingSystem.IsWindows(), "Windows has no file modes; the folder's access list holds");
        using var folder = new AgentFolder();
        var secret = Path.Combine(Path.GetDirectoryName(folder.Config)!, "shop.secret");
        File.WriteAllText(secret, "secret");
        await ChmodAsync("644", secret);
        File.WriteAllText(folder.Config, """
            { "embeddedBroker": { "user": "shop", "password": { "file": "shop.secret" } }, "store": { "path": "laserwatch.db" }, "health": { "port": 0 } }
            """);

        var (_, output, _) = await AgentProcess.RunAsync("check", "--offline", "--config", folder.Config);
        Assert.Contains($"{secret} (mode 0644): chmod o-rwx {secret}", output, StringComparison.Ordinal);

        await ChmodAsync("600", secret);
        (_, output, _) = await AgentProcess.RunAsync("check", "--offline", "--config", folder.Config);
        Assert.DoesNotContain("chmod", output, StringComparison.Ordinal);
    }

    private static async Task ChmodAsync(string mode, string path)
    {
        using var chmod = Process.Start("chmod", [mode, path]);
        await chmod.WaitForExitAsync();
    }

    private static string ModeOf(string path)
    {
        using var stat = Process.Start(new ProcessStartInfo("stat", ["-c", "%a", path]) { RedirectStandardOutput = true })!;
        var mode = stat.StandardOutput.ReadToEnd().Trim();
        stat.WaitForExit();
        return mode;
    }
}
