using System.Diagnostics;
using System.Globalization;
using System.Text.RegularExpressions;
using LaserWatch.Configuration;

namespace LaserWatch.Install;

/// <summary>systemd itself does not run in the tests: the unit is read and judged by its own tool, and never started.</summary>
public sealed partial class SystemdUnitTests
{
    /// <summary>What its rights come to by systemd 252's own reckoning, from 0 (none) to 10; a unit without settings has 9.6.</summary>
    private const double MostExposure = 1.6;

    private static readonly string Unit = SystemdUnit.Text(InstallLayout.Linux(), ["/srv/laser data", "/mnt/100%"]);

    [Fact]
    public void The_unit_is_the_golden_file()
    {
        var path = Path.Combine(Repository.Folder, "tests", "LaserWatch.EndToEndTests", "Install", "Golden", "laserwatch.service");
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(path, Unit);
        Assert.Equal(File.ReadAllText(path), Unit);
    }

    [SkippableFact]
    public async Task Systemd_finds_nothing_to_say_about_it()
    {
        // The one thing that is not there on a machine of the tests is the program.
        var said = await AnalyzeAsync(Unit.Replace("/opt/laserwatch/laserwatch", "/bin/true", StringComparison.Ordinal), "verify");

        Assert.Equal((0, ""), said);
    }

    [SkippableFact]
    public async Task It_is_no_more_exposed_than_it_must_be()
    {
        var (exit, said) = await AnalyzeAsync(Unit, "security", "--offline=true", "--no-pager");

        Skip.If(exit != 0 && said.Contains("unrecognized option", StringComparison.Ordinal), "this systemd-analyze cannot judge a unit file by itself (needs 250)");
        var exposure = double.Parse(Overall().Match(said).Groups[1].Value, CultureInfo.InvariantCulture);
        Assert.True(exposure <= MostExposure, said);
    }

    [GeneratedRegex(@"Overall exposure level for [^:]*: ([0-9.]+)")]
    private static partial Regex Overall();

    private static async Task<(int ExitCode, string Said)> AnalyzeAsync(string unit, params string[] arguments)
    {
        Needs.Program("systemd-analyze");
        var folder = Directory.CreateTempSubdirectory("laserwatch-unit-");
        try
        {
            var file = Path.Combine(folder.FullName, "laserwatch.service");
            await File.WriteAllTextAsync(file, unit);
            using var process = Process.Start(new ProcessStartInfo(Needs.Program("systemd-analyze"), [.. arguments, file]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
            var said = await Task.WhenAll(process.StandardOutput.ReadToEndAsync(), process.StandardError.ReadToEndAsync()).WaitAsync(TimeSpan.FromSeconds(60));
            await process.WaitForExitAsync();
            return (process.ExitCode, string.Concat(said).Trim());
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }
}
