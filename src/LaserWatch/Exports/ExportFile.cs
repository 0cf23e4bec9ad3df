using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>What an export holds, once it is written.</summary>
/// <param name="EventsFile">Where runs, services, alarms and job records stand.</param>
internal sealed record ExportExtent(long Rows, int Columns, int Events, string EventsFile);

/// <summary>Writes a machine's time as two tables: the samples into the file named, what is no sample into a second one beside it.</summary>
internal static class ExportFile
{
    /// <param name="path">Packed by gzip where it ends in <c>.gz</c>, which is for CSV only: Parquet packs itself.</param>
    /// <exception cref="IOException">A file cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">A file may not be written.</exception>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static async Task<ExportExtent> WriteAsync(
        ITelemetryStore store, string machine, Instant from, Instant to, string path, bool parquet, CancellationToken stop)
    {
        var table = await SampleTable.OpenAsync(store, machine, from, to, stop).ConfigureAwait(false);
        var events = await EventTable.ReadAsync(store, machine, from, to, stop).ConfigureAwait(false);
        var eventsFile = EventsFile(path);
        var rows = await WholeFile.WriteAsync(
            path, file => parquet ? ParquetExport.WriteAsync(table, machine, file, stop) : CsvExport.WriteAsync(table, file, stop)).ConfigureAwait(false);
        await WholeFile.WriteAsync(
            eventsFile,
            async file =>
            {
                await (parquet ? ParquetExport.WriteAsync(events, machine, file, stop) : CsvExport.WriteAsync(events, file, stop)).ConfigureAwait(false);
                return events.Count;
            }).ConfigureAwait(false);
        return new ExportExtent(rows, table.Channels.Count, events.Count, eventsFile);
    }

    /// <summary><c>bay1.csv.gz</c> has its events in <c>bay1.events.csv.gz</c>.</summary>
    internal static string EventsFile(string path)
    {
        var packed = path.EndsWith(".gz", StringComparison.OrdinalIgnoreCase) ? path[^3..] : "";
        var plain = path[..^packed.Length];
        var ending = Path.GetExtension(plain);
        return $"{plain[..^ending.Length]}.events{ending}{packed}";
    }
}
