using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>Three days of a machine in a store, sealed, to be recorded and tampered with.</summary>
public sealed class SealedShop : IAsyncDisposable
{
    public static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    public static readonly DateOnly FirstDay = new(2026, 3, 9);

    private readonly TemporaryFolder _files = new();

    public SealedShop(EvidenceOptions? options = null)
    {
        StoreOptions = new StoreOptions { Path = _files.File("shop.db") };
        Folder = EvidenceFolder.Of(StoreOptions);
        Logger = new CollectingLogger<EvidenceKeeper>();
        Keeper = new EvidenceKeeper(StoreOptions, options ?? new EvidenceOptions(), Logger);
    }

    public StoreOptions StoreOptions { get; }

    public EvidenceFolder Folder { get; }

    public InMemoryTelemetryStore Store { get; } = new();

    public CollectingLogger<EvidenceKeeper> Logger { get; }

    public EvidenceKeeper Keeper { get; }

    public static Instant At(int day, double seconds) => Start + TimeSpan.FromDays(day) + TimeSpan.FromSeconds(seconds);

    /// <summary>A shop whose three days are sealed.</summary>
    public static async Task<SealedShop> CreateAsync(EvidenceOptions? options = null)
    {
        var shop = new SealedShop(options);
        for (var day = 0; day < 3; day++)
            await shop.AppendDayAsync(day);
        await shop.SealAsync(3);
        return shop;
    }

    /// <summary>Seals at noon of a day, counted from the first.</summary>
    public Task<SealingOutcome> SealAsync(int day) => Keeper.SealAsync(Store, At(day, 4 * 3600), CancellationToken.None);

    /// <summary>Three minutes of two channels, with values of all spellings, and a few events.</summary>
    public async Task AppendDayAsync(int day)
    {
        var batch = new StoreBatch();
        for (var second = 0; second < 180; second += 4)
        {
            batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, At(day, second + 0.25), 18.2 + (second / 100.0))));
            batch.Samples.Add(("bay1", new Sample(Channel.AirPressure, At(day, second + 0.25), second switch { 8 => -0.0, 12 => 1e-300, 16 => 1.0 / 3, _ => 210 })));
        }

        batch.JobRecords.Add(new JobRecord($"birch-{day}", At(day, -60), null, new PowerPercent(66), null, new Kilopascals(210), null));
        batch.JobRuns.Add(new JobEvent("bay1", At(day, 10), JobEventKind.Start, "birch", Inferred: day == 1));
        batch.JobRuns.Add(new JobEvent("bay1", At(day, 100), JobEventKind.End, "birch"));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", At(day, 20), "lens", "cleaned", null, "by \"hand\", twice", new Dictionary<string, string> { ["with"] = "a\\b" }));
        batch.AlarmChanges.Add(new AlarmChange(
            At(day, 30), "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, double.NaN, "kPa", null, "low\nair", [new("since", 2)], ["hose"]));
        await Store.AppendAsync(batch, CancellationToken.None);
    }

    public async Task AddSampleAsync(int day, double seconds, double value)
    {
        var batch = new StoreBatch();
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, At(day, seconds), value)));
        await Store.AppendAsync(batch, CancellationToken.None);
    }

    public async Task<byte[]> RecordAsync(Instant? from = null, Instant? to = null)
    {
        using var bytes = new MemoryStream();
        await RecordingWriter.WriteAsync(Store, "bay1", from ?? Instant.MinValue, to ?? Instant.MaxValue, bytes, Folder, CancellationToken.None);
        return bytes.ToArray();
    }

    public LogContent ReadLog() => EvidenceLog.Read(Folder, "bay1").Content;

    public static VerificationReport Verify(byte[] recording, VerificationDemands? demands = null) =>
        RecordingVerifier.Verify(() => new MemoryStream(recording), demands ?? VerificationDemands.None);

    public async ValueTask DisposeAsync()
    {
        await Store.DisposeAsync();
        _files.Dispose();
    }
}
