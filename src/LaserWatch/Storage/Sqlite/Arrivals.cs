using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Reads what commits brought of many machines and was not gathered yet: a few rows, which are looked through for one machine.</summary>
/// <remarks>
/// Holds the machine's share until another connection writes, so it is for connections that only read. Wants a transaction around what must be of one state of the file. Not safe
/// for several threads.
/// </remarks>
internal sealed class Arrivals(SqliteConnection connection) : IDisposable
{
    private readonly Statement _dataVersion = new(connection, "PRAGMA data_version");
    private readonly Statement _all = new(connection, "SELECT id, first, last, block FROM arrival ORDER BY id");
    private readonly ArrivedParts _parts = new();
    private readonly List<(long First, long Last, StoreException Damage)> _damaged = [];
    private (long Version, long MachineId)? _seen;

    /// <summary>The first hour that has a sample of the machine, or a damaged row, at or after the time.</summary>
    public long? NextHour(long machineId, long ts)
    {
        Look(machineId);
        var found = _parts.NextHour(machineId, ts);
        foreach (var (first, last, _) in _damaged)
        {
            var hour = TimeGrid.HourOf(new Instant(Math.Max(first, ts)));
            if (last >= ts && !(hour >= found))
                found = hour;
        }

        return found;
    }

    /// <exception cref="StoreException">A row is damaged; the message names its times.</exception>
    public SampleExtent? ExtentOf(long machineId)
    {
        Look(machineId);
        return _damaged.Count == 0 ? _parts.ExtentOf(machineId) : throw _damaged[0].Damage;
    }

    /// <summary>Adds the samples of the hour to the columns, as <see cref="TailBlocks.Read"/>.</summary>
    /// <exception cref="StoreException">A row that may have some is damaged; the message names its times.</exception>
    public void Read(long machineId, long hour, long from, IReadOnlyDictionary<long, SampleColumn> into)
    {
        Look(machineId);
        foreach (var (first, last, damage) in _damaged)
        {
            if (last >= Math.Max(from, TimeGrid.FirstOfHour(hour)) && first <= TimeGrid.LastOfHour(hour))
                throw damage;
        }

        try
        {
            _parts.Read(machineId, hour, from, into);
        }
        catch (Exception e) when (e is InvalidDataException or OverflowException)
        {
            throw DamageOf(connection, TimeGrid.FirstOfHour(hour), TimeGrid.LastOfHour(hour), e);
        }
    }

    /// <summary>What is said of a damaged row that has samples of these times.</summary>
    public static StoreException DamageOf(SqliteConnection connection, long first, long last, Exception why) => new(
        $"The newest samples of the machines from {new Instant(first)} to {new Instant(last)} are damaged in {connection.DataSource}: "
        + $"{why.Message}; put a copy of the file in its place, or read the times before and after it.", why);

    public void Dispose()
    {
        _dataVersion.Dispose();
        _all.Dispose();
    }

    private void Look(long machineId)
    {
        var now = (_dataVersion.RunForInt64() ?? 0, machineId);
        if (_seen == now)
            return;
        _seen = null;
        _parts.Clear();
        _damaged.Clear();
        while (_all.Step())
        {
            try
            {
                _parts.Add(_all.Bytes(3), _all.Int64(0), machineId);
            }
            catch (InvalidDataException e)
            {
                _damaged.Add((_all.Int64(1), _all.Int64(2), DamageOf(connection, _all.Int64(1), _all.Int64(2), e)));
            }
        }

        _seen = now;
    }
}
