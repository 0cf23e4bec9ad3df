using System.Diagnostics;

namespace LaserWatch.Configuration;

public class DockerTests
{
    private static readonly string Docker = Path.Combine(Repository.Folder, "docker");

    [Fact]
    public void The_configuration_inside_the_container_is_sound_and_keeps_its_data_on_the_volume()
    {
        var read = ConfigurationFile.Read(Path.Combine(Docker, "laserwatch.json"));

        Assert.Empty(read.Mistakes);
        Assert.Equal("mosquitto", read.Value!.Broker.Host);
        Assert.StartsWith("/var/lib/laserwatch/", read.Value.Store.Path, StringComparison.Ordinal);
    }

    [Fact]
    public void With_InfluxDB_the_configuration_lacks_nothing_but_the_token_that_compose_lays_there()
    {
        var read = ConfigurationFile.Read(Path.Combine(Docker, "laserwatch-influx.json"));

        var mistake = Assert.Single(read.Mistakes);
        Assert.Equal("store.influx.token.file", mistake.Path);
        Assert.Contains("/run/secrets/influx-token", mistake.What, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task The_compose_file_is_valid()
    {
        Skip.IfNot(await RunAsync("compose", "version") == 0, "the docker command with its compose plugin is not installed");

        Assert.Equal(0, await RunAsync("compose", "-f", Path.Combine(Docker, "compose.yaml"), "--profile", "influx", "config", "--quiet"));
        Assert.Equal(0, await RunAsync(
            "compose", "-f", Path.Combine(Docker, "compose.yaml"), "-f", Path.Combine(Docker, "compose.influx.yaml"), "--profile", "influx", "config", "--quiet"));
    }

    [SkippableFact]
    public async Task The_image_builds_and_the_agent_in_it_answers()
    {
        Skip.IfNot(await RunAsync("info") == 0, "no Docker engine answers");

        const string Image = "laserwatch:test";
        Assert.Equal(0, await RunAsync("build", "-q", "-f", Path.Combine(Docker, "Dockerfile"), "-t", Image, Repository.Folder));
        Assert.Equal(0, await RunAsync("run", "--rm", "--network", "none", Image, "--version"));
    }

    private static async Task<int> RunAsync(params string[] arguments)
    {
        using var docker = Process.Start(new ProcessStartInfo(Needs.Program("docker"), arguments) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        await Task.WhenAll(docker.StandardOutput.ReadToEndAsync(), docker.StandardError.ReadToEndAsync()).WaitAsync(TimeSpan.FromMinutes(15));
        await docker.WaitForExitAsync();
        return docker.ExitCode;
    }
}
