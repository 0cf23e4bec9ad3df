using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>The v2 write route as it really goes over the wire, to a server that was not made for these tests: victoria-metrics.</summary>
/// <remarks>It takes no text and has no InfluxQL, so it proves the wire, and neither the schema nor the reading. It keeps milliseconds and some 15 digits.</remarks>
public sealed class InfluxWireTests : IDisposable
{
    private const long Start = 1773041400000;

    private readonly TemporaryFolder _folder = new();
    private readonly LogLines<InfluxTelemetryStore> _log = new();

    public void Dispose() => _folder.Dispose();

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task What_is_written_is_what_the_server_exports_packed_or_not(bool gzip)
    {
        await using var server = await VictoriaServer.StartAsync();
        await using var store = Open(new InfluxOptions { Url = server.Url, Bucket = "laserwatch", Gzip = gzip, BatchLines = 300 });

        await store.AppendAsync(Samples(), default);
        await store.FlushAsync(default);

        Assert.Equal((0, 0, 0), store.ReadWaiting());
        Assert.Equal(Enumerable.Range(0, 1000).Select(i => (Start + (1000L * i), 18 + (i * 0.125))), await server.ExportAsync("""telemetry_tube_current{machine="bay1"}"""));
        Assert.Empty(_log.Warnings);
    }

    [SkippableFact]
    public async Task By_TLS_a_private_authority_is_trusted_where_it_is_named()
    {
        await using var server = await VictoriaServer.StartAsync(tls: true);
        await using var store = Open(new InfluxOptions { Url = server.Url, Bucket = "laserwatch", CaFile = server.CaFile });

        await store.AppendAsync(Samples(), default);
        await store.FlushAsync(default);

        Assert.Equal(1000, (await server.ExportAsync("""telemetry_tube_current{machine="bay1"}""")).Count);
    }

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task By_TLS_another_authority_is_refused_in_one_line_and_everything_waits(bool named)
    {
        await using var server = await VictoriaServer.StartAsync(tls: true);
        await using var store = Open(new InfluxOptions { Url = server.Url, Bucket = "laserwatch", CaFile = named ? server.OtherCaFile : null });
        await store.AppendAsync(Samples(), default);
        await RealBroker.UntilAsync(() => _log.Warnings.Count > 0, "nothing is told");

        Assert.StartsWith($"No writing to InfluxDB {server.Url} (bucket laserwatch): the TLS handshake failed: ", _log.Warnings[0], StringComparison.Ordinal);
        Assert.Contains("name its file in store.influx.caFile", _log.Warnings[0], StringComparison.Ordinal);
        Assert.DoesNotContain("\n", _log.Warnings[0], StringComparison.Ordinal);
        Assert.Equal(1000, store.ReadWaiting().Lines);
        Assert.Empty(await server.ExportAsync("""telemetry_tube_current{machine="bay1"}"""));
    }

    [Fact]
    public void A_file_without_certificates_is_refused_at_once()
    {
        File.WriteAllText(_folder.File("empty.pem"), "");

        var empty = Assert.Throws<StoreException>(() => Open(new InfluxOptions { Url = "https://127.0.0.1:1", Bucket = "b", CaFile = _folder.File("empty.pem") }));
        var absent = Assert.Throws<StoreException>(() => Open(new InfluxOptions { Url = "https://127.0.0.1:1", Bucket = "b", CaFile = _folder.File("absent.pem") }));

        Assert.Contains("holds no certificate", empty.Message, StringComparison.Ordinal);
        Assert.Contains("store.influx.caFile cannot be read", absent.Message, StringComparison.Ordinal);
    }

    private InfluxTelemetryStore Open(InfluxOptions influx) => InfluxTelemetryStore.Open(
        new StoreOptions { Path = _folder.File("spool.db"), Influx = influx with { IntervalMs = 0 } }, TimeSpan.FromSeconds(2), TimeProvider.System, _log);

    private static StoreBatch Samples()
    {
        var batch = new StoreBatch();
        batch.Samples.AddRange(Enumerable.Range(0, 1000).Select(i =>
            ("bay1", new Sample(Channel.TubeCurrent, new Instant((Start + (1000L * i)) * 1_000_000), 18 + (i * 0.125)))));
        return batch;
    }
}
