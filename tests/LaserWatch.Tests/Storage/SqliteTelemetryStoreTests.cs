using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Storage;

public sealed class SqliteTelemetryStoreTests : TelemetryStoreContract, IDisposable
{
    private readonly TemporaryFolder _folder = new();
    private int _files;

    protected override ITelemetryStore Make(StoreOptions options) =>
        SqliteTelemetryStore.Open(options with { Path = _folder.File($"{++_files}.db") });

    public void Dispose() => _folder.Dispose();
}
