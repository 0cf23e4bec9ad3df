using LaserWatch.Fakes;

namespace LaserWatch.Storage;

public class InMemoryTelemetryStoreTests : TelemetryStoreContract
{
    protected override ITelemetryStore Make(StoreOptions options) => new InMemoryTelemetryStore(options);
}
