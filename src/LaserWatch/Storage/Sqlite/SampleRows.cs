using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Reads the samples that are not sealed yet. A machine is known by the first of its series.</summary>
/// <remarks>Wants a transaction around what must be of one state of the file. Not safe for several threads.</remarks>
internal sealed class SampleRows(SqliteConnection connection) : IDisposable
{
    private readonly Statement _machineOf = new(connection, "SELECT min(other.id) FROM series own JOIN series other ON other.machine = own.machine WHERE own.id = ?1");
    private readonly Statement _next = new(connection, "SELECT ts FROM sample WHERE machine_id = ?1 AND ts >= ?2 ORDER BY ts LIMIT 1");
    private readonly Statement _read = new(connection, "SELECT ts, series_id, value FROM sample WHERE machine_id = ?1 AND ts BETWEEN ?2 AND ?3 ORDER BY ts");
    private readonly Statement _extent = new(connection, "SELECT min(ts), max(ts), count(*) FROM sample WHERE machine_id = ?1");

    public long MachineOf(long seriesId) => _machineOf.Bind(1, seriesId).RunForInt64() ?? seriesId;

    /// <summary>The first hour that has a row of the machine at or after the time.</summary>
    public long? NextHour(long machineId, long from) =>
        _next.Bind(1, machineId).Bind(2, from).RunForInt64() is { } ts ? TimeGrid.HourOf(new Instant(ts)) : null;

    /// <summary>Adds the rows within the bounds, both included, to the columns of their series; other series are left out.</summary>
    /// <returns>The time of the last row of any series; null where there is none.</returns>
    public long? Read(long machineId, long first, long last, IReadOnlyDictionary<long, SampleColumn> into)
    {
        _read.Bind(1, machineId).Bind(2, first).Bind(3, last);
        long? newest = null;
        while (_read.Step())
        {
            newest = _read.Int64(0);
            if (into.TryGetValue(_read.Int64(1), out var column))
                column.Add(_read.Int64(0), _read.Double(2));
        }

        return newest;
    }

    public SampleExtent? ExtentOf(long machineId)
    {
        _extent.Bind(1, machineId).Step();
        SampleExtent? extent = _extent.IsNull(0) ? null : new(new Instant(_extent.Int64(0)), new Instant(_extent.Int64(1)), _extent.Int64(2));
        _extent.Reset();
        return extent;
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _machineOf, _next, _read, _extent })
            statement.Dispose();
    }
}
