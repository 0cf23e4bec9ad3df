using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Cli;

/// <summary>Opens the store for a verb; what is wrong with it ends the verb with one line.</summary>
public static class StoreAccess
{
    /// <exception cref="CommandException">It cannot be read.</exception>
    public static ITelemetryStore ForReading(StoreOptions options) => Open(() => SqliteTelemetryStore.OpenForReading(options.Path));

    /// <exception cref="CommandException">It cannot be opened for writing.</exception>
    public static ITelemetryStore ForWriting(StoreOptions options) => Open(() => SqliteTelemetryStore.Open(options));

    private static SqliteTelemetryStore Open(Func<SqliteTelemetryStore> open)
    {
        try
        {
            return open();
        }
        catch (StoreException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }
    }
}
