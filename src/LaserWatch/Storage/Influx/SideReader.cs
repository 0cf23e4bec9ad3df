using System.Globalization;
using LaserWatch.Recordings;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Influx;

/// <summary>Reads the side file, on a connection of its own for each call, while this or another process may write.</summary>
internal sealed class SideReader(string path, double busySeconds)
{
    /// <summary>Each line of a measurement that waits for the server and lies within the bounds (both included), in the order of appending.</summary>
    /// <remarks>The line is reused from one to the next. All of one call is of one state of the file.</remarks>
    public IEnumerable<ParsedLine> ReadSpool(string measurement, long first, long last)
    {
        var kind = KindOf(measurement);
        using var connection = Open();
        using var rows = new Statement(
            connection,
            $"SELECT text FROM spool WHERE {(kind == LineKinds.Telemetry ? "" : "kinds > 1 AND ")}kinds & ?3 AND last_ts >= ?1 AND first_ts <= ?2 ORDER BY id");
        var line = new ParsedLine();
        rows.Bind(1, first).Bind(2, last).Bind(3, (long)kind);
        while (rows.Step())
        {
            foreach (var text in SpooledLines.Split(rows.Blob(0)))
            {
                if (!LineProtocol.TryParse(text.Span, line, out var mistake))
                    throw new StoreException($"The spool {path} holds a line that {mistake}: '{SpooledLines.Shown(text.Span)}'; the file is damaged: put it away, and start anew.");
                if (line.Measurement == measurement && line.Time.UnixNanoseconds >= first && line.Time.UnixNanoseconds <= last)
                    yield return line;
            }
        }
    }

    /// <summary>How many bytes of lines <see cref="ReadSpool"/> would go through.</summary>
    public long SpoolBytes(long first, long last)
    {
        using var connection = Open();
        using var sum = new Statement(connection, "SELECT ifnull(sum(bytes), 0) FROM spool WHERE last_ts >= ?1 AND first_ts <= ?2");
        return sum.Bind(1, first).Bind(2, last).RunForInt64() ?? 0;
    }

    /// <summary>A time from the one given on before which nothing waits; null where nothing waits after it.</summary>
    public long? NextInSpool(long first)
    {
        using var connection = Open();
        using var next = new Statement(connection, "SELECT min(max(first_ts, ?1)) FROM spool WHERE last_ts >= ?1");
        return next.Bind(1, first).RunForInt64();
    }

    /// <summary>Bytes and lines that wait, and lines that were refused.</summary>
    public (long Bytes, long Lines, long Refused) Waiting()
    {
        using var connection = Open();
        using var sums = new Statement(connection, "SELECT ifnull(sum(bytes), 0), ifnull(sum(lines), 0), (SELECT ifnull(sum(lines), 0) FROM refused) FROM spool");
        sums.Step();
        var waiting = (sums.Int64(0), sums.Int64(1), sums.Int64(2));
        sums.Reset();
        return waiting;
    }

    /// <summary>By how much points were moved so that none replaces another, by series and time at the server.</summary>
    public Dictionary<(string Series, long At), long> ReadMoves(string measurement)
    {
        var moves = new Dictionary<(string, long), long>();
        Query(
            "SELECT series, ts, moved FROM event_time WHERE moved <> 0 AND series >= ?1 AND series < ?2",
            row => moves.Add((row.Text(0), row.Int64(1)), row.Int64(2)),
            query => query.Bind(1, measurement + ",").Bind(2, measurement + "-")); // '-' is the character after ','
        return moves;
    }

    public IReadOnlyList<string> ReadMachines()
    {
        var machines = new List<string>();
        Query("SELECT name FROM machine", row => machines.Add(row.Text(0)), _ => { });
        return machines;
    }

    /// <summary>The channels of a machine that were ever appended here, with their units.</summary>
    public Dictionary<string, string> ReadUnits(string machine)
    {
        var units = new Dictionary<string, string>(StringComparer.Ordinal);
        Query("SELECT name, unit FROM channel WHERE machine = ?1", row => units.Add(row.Text(0), row.Text(1)), query => query.Bind(1, machine));
        return units;
    }

    public IReadOnlyList<Gap> ReadGaps(string machine, Instant from, Instant to)
    {
        var gaps = new List<Gap>();
        Query("""
            SELECT from_ts, to_ts, reason, lost FROM gap
            WHERE machine = ?1 AND from_ts < ?3 AND (from_ts >= ?2 OR to_ts > ?2) ORDER BY from_ts, id
            """,
            row => gaps.Add(new Gap(machine, new Instant(row.Int64(0)), new Instant(row.Int64(1)), row.Text(2), row.Int64(3))),
            query => query.Bind(1, machine).Bind(2, from.UnixNanoseconds).Bind(3, to.UnixNanoseconds));
        return gaps;
    }

    public byte[]? ReadWatchState(string machine)
    {
        byte[]? state = null;
        Query("SELECT state FROM watch_state WHERE machine = ?1", row => state = row.Blob(0), query => query.Bind(1, machine));
        return state;
    }

    /// <summary>A connection that stays, for what is asked message after message; the caller disposes both.</summary>
    public (SqliteConnection Connection, Statement WasDelivered) OpenDeliveries()
    {
        var connection = Open();
        return (connection, new Statement(connection, string.Create(CultureInfo.InvariantCulture, $"""
            SELECT 1 FROM delivery_session s JOIN delivery d ON d.session_id = s.id
            WHERE s.name = ?1 AND d.packet_id = ?2 AND d.content_hash = ?3 AND d.number > s.last_number - {DeliveryTable.Kept}
            """)));
    }

    /// <exception cref="StoreException">The file cannot be opened.</exception>
    public SqliteConnection Open() => SideFile.OpenForReading(path, busySeconds);

    private static LineKinds KindOf(string measurement) => measurement switch
    {
        EventLines.JobRecordName => LineKinds.JobRecords,
        EventLines.JobRunName => LineKinds.JobRuns,
        EventLines.ServiceName => LineKinds.Services,
        EventLines.AlarmName => LineKinds.Alarms,
        _ => LineKinds.Telemetry,
    };

    private void Query(string sql, Action<Statement> read, Action<Statement> bind)
    {
        using var connection = Open();
        using var query = new Statement(connection, sql);
        bind(query);
        while (query.Step())
            read(query);
    }
}
