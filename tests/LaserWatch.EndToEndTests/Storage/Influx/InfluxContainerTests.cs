using DotNet.Testcontainers.Builders;
using DotNet.Testcontainers.Containers;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Storage.Influx;

/// <summary>The official InfluxDB 2, where there is a Docker engine: set up by its documented variables, written by v2, read by InfluxQL.</summary>
public sealed class InfluxContainerTests : IDisposable
{
    private const string Token = "a-token-of-this-test-only";
    private const ushort Port = 8086;

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableFact]
    public async Task Everything_written_to_the_official_server_is_read_back_equal()
    {
        await using var container = await StartAsync();
        await File.WriteAllTextAsync(_folder.File("token"), Token);
        var influx = new InfluxOptions
        {
            Url = $"http://{container.Hostname}:{container.GetMappedPublicPort(Port)}",
            Organisation = "shop",
            Bucket = "laserwatch",
            Token = new Secret { File = _folder.File("token") },
        };
        await InfluxTelemetryStore.CheckServerAsync(influx, default);
        await using var store = InfluxTelemetryStore.Open(
            new StoreOptions { Path = _folder.File("spool.db"), Influx = influx }, TimeSpan.FromSeconds(2), TimeProvider.System, NullLogger.Instance);
        var start = Instant.From(TimeProvider.System.GetUtcNow()) - TimeSpan.FromHours(2);
        var batch = new StoreBatch();
        batch.Samples.AddRange(Enumerable.Range(0, 12_000).Select(i => ("bay1", new Sample(Channel.TubeCurrent, start + TimeSpan.FromMilliseconds(500 * i), 18 + (i * 0.0001)))));
        batch.JobRuns.AddRange([new JobEvent("bay1", start, JobEventKind.Start, "birch-6-cut"), new JobEvent("bay1", start, JobEventKind.End, "birch-6-cut")]);
        batch.ServiceEvents.Add(new ServiceEvent("bay1", start, "tube", "replaced", "T-000001", "a \"note\"", ServiceEvent.NoDetails));
        batch.AlarmChanges.Add(new AlarmChange(
            start, "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, 189, "kPa", "birch-6-cut", "low", [], []));

        await store.AppendAsync(batch, default);
        await store.FlushAsync(default);

        Assert.Equal((0, 0, 0), store.ReadWaiting());
        Assert.Equal(
            batch.Samples.Select(entry => entry.Sample),
            await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync());
        Assert.Equal(batch.JobRuns, await store.ReadJobRunsAsync("bay1", start, Instant.MaxValue, default));
        Assert.Equal(["T-000001"], (await store.ReadServiceEventsAsync("bay1", start, Instant.MaxValue, default)).Select(service => service.Serial));
        Assert.Equal([151.0], (await store.ReadAlarmChangesAsync(null, start, Instant.MaxValue, default)).Select(change => change.Value!.Value));
        Assert.Equal(["bay1"], await store.ReadMachinesAsync(default));
        Assert.Equal([Channel.TubeCurrent], await store.ReadChannelsAsync("bay1", new ChannelTable(), default));
        Assert.Equal(new SampleExtent(start, batch.Samples[^1].Sample.At, 12_000), await store.ReadExtentAsync("bay1", default));
        Assert.Equal(
            12_000,
            (await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync()).Sum(minute => minute.Count));
    }

    private static async Task<IContainer> StartAsync()
    {
        Needs.Docker();
        try
        {
            var container = new ContainerBuilder("influxdb:2.7.11")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_MODE", "setup")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_USERNAME", "laserwatch")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_PASSWORD", "a-password-of-this-test-only")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_ORG", "shop")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_BUCKET", "laserwatch")
                .WithEnvironment("DOCKER_INFLUXDB_INIT_ADMIN_TOKEN", Token)
                .WithPortBinding(Port, assignRandomHostPort: true)
                .WithWaitStrategy(Wait.ForUnixContainer().UntilHttpRequestIsSucceeded(request => request.ForPort(Port).ForPath("/ready")))
                .Build();
            await container.StartAsync();
            return container;
        }
        catch (DockerUnavailableException e)
        {
            throw new SkipException($"no Docker engine answers: {e.Message.Split('\n')[0]}");
        }
    }
}
