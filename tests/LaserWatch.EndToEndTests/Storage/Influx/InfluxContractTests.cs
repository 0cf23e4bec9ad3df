using System.Net;
using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>What every store does alike, on a real server; and by name what InfluxDB does otherwise by its nature.</summary>
public abstract class InfluxContract : TelemetryStoreContract
{
    // Asked before any test begins: within a random sample a skip would count as a failure.
    protected InfluxContract(InfluxShop shop)
    {
        Needs.Program("influxd");
        Shop = shop;
    }

    protected InfluxShop Shop { get; }

    protected override bool KeepsFirstOfTwo => false;

    protected override bool DeletesByAge => false;

    protected override bool OrdersByAppending => false;

    protected override Instant Earliest => new(InfluxQl.FirstTime);

    // They are tags: never empty, and of the characters that names of conditions have.
    protected override Gen<string> ConditionNames => Gen.Char["abcxyz-019"].Array[1, 12].Select(chars => new string(chars));

    protected override AlarmChange AsKept(AlarmChange change)
    {
        var lines = new LineFormatter();
        EventLines.Write(lines, change);
        Assert.True(EventLines.TryRead(Parsed(lines), out AlarmChange? kept, out var mistake), mistake);
        return kept!;
    }

    protected override ServiceEvent AsKept(ServiceEvent service)
    {
        var lines = new LineFormatter();
        EventLines.Write(lines, service);
        Assert.True(EventLines.TryRead(Parsed(lines), out ServiceEvent? kept, out var mistake), mistake);
        return kept!;
    }

    private static ParsedLine Parsed(LineFormatter lines)
    {
        var line = new ParsedLine();
        Assert.True(LineProtocol.TryParse(lines.Written[..^1], line, out var mistake), mistake);
        return line;
    }
}

/// <summary>Tests that share one server, one after another.</summary>
[CollectionDefinition(Name)]
public sealed class OneInfluxd : ICollectionFixture<InfluxShop>
{
    public const string Name = "influxd";
}

/// <summary>Everything is read from the server.</summary>
[Collection(OneInfluxd.Name)]
public sealed class SentInfluxContractTests(InfluxShop shop) : InfluxContract(shop)
{
    protected override ITelemetryStore Make(StoreOptions options) => new FlushingStore(InfluxShop.Open(Shop.Options(options)));
}

/// <summary>Some is read from the server and some from the spool, as it comes.</summary>
[Collection(OneInfluxd.Name)]
public sealed class StreamingInfluxContractTests(InfluxShop shop) : InfluxContract(shop)
{
    protected override ITelemetryStore Make(StoreOptions options) => InfluxShop.Open(Shop.Options(options));
}

/// <summary>Everything is read from the spool: the server answers, but takes nothing.</summary>
[Collection(OneInfluxd.Name)]
public sealed class SpooledInfluxContractTests : InfluxContract, IDisposable
{
    public SpooledInfluxContractTests(InfluxShop shop) : base(shop) => Shop.Shim.OnWrite = _ => (HttpStatusCode.ServiceUnavailable, "not now");

    protected override ITelemetryStore Make(StoreOptions options) => InfluxShop.Open(Shop.Options(options));

    public void Dispose() => Shop.Shim.OnWrite = null;
}
