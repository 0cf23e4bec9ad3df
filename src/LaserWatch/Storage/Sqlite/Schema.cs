using System.Globalization;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The tables, as numbered steps from an empty file; <c>PRAGMA user_version</c> holds the number of the last one taken.</summary>
/// <remarks>
/// A step that was ever released is never edited: a change of the tables is a new step at the end. It also needs a test that
/// takes a file of the version before through it.
/// </remarks>
internal static class Schema
{
    /// <summary>Marks the file as ours, in <c>PRAGMA application_id</c>: "LWTS" in ASCII.</summary>
    public const int ApplicationId = 0x4C575453;

    public static readonly IReadOnlyList<string> Steps = [Version1, Version2, Version3, Version4];

    public static int Version => Steps.Count;

    /// <summary>
    /// Times are nanoseconds since 1970 UTC, minutes and hours whole ones since then. <c>sealed_before</c>: samples of the minutes
    /// before it were deleted by age and live on in the roll-ups only. <c>stale_minute</c>: minutes whose roll-up is behind the samples.
    /// </summary>
    private const string Version1 = """
        CREATE TABLE series (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            channel TEXT NOT NULL,
            unit TEXT NOT NULL,
            sealed_before INTEGER,
            duplicates INTEGER NOT NULL DEFAULT 0,
            conflicts INTEGER NOT NULL DEFAULT 0,
            UNIQUE (machine, channel)
        ) STRICT;

        CREATE TABLE sample (
            series_id INTEGER NOT NULL,
            ts INTEGER NOT NULL,
            value REAL NOT NULL,
            PRIMARY KEY (series_id, ts)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE stale_minute (
            series_id INTEGER NOT NULL,
            minute INTEGER NOT NULL,
            PRIMARY KEY (series_id, minute)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE rollup_minute (
            series_id INTEGER NOT NULL,
            minute INTEGER NOT NULL,
            n INTEGER NOT NULL,
            min REAL NOT NULL,
            mean REAL NOT NULL,
            max REAL NOT NULL,
            PRIMARY KEY (series_id, minute)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE rollup_hour (
            series_id INTEGER NOT NULL,
            hour INTEGER NOT NULL,
            n INTEGER NOT NULL,
            min REAL NOT NULL,
            mean REAL NOT NULL,
            max REAL NOT NULL,
            PRIMARY KEY (series_id, hour)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE job_record (
            job TEXT NOT NULL,
            ts INTEGER NOT NULL,
            material TEXT,
            power_percent REAL,
            speed_mm_s REAL,
            air_pressure_kpa REAL,
            tube_current_ma REAL,
            mode TEXT NOT NULL,
            air_pressure_tolerance REAL,
            PRIMARY KEY (job, ts)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE job_run (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            ts INTEGER NOT NULL,
            event TEXT NOT NULL,
            job TEXT,
            inferred INTEGER NOT NULL
        ) STRICT;
        CREATE INDEX job_run_by_time ON job_run (machine, ts);

        CREATE TABLE service_event (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            ts INTEGER NOT NULL,
            part TEXT NOT NULL,
            action TEXT NOT NULL,
            serial TEXT,
            note TEXT,
            details TEXT NOT NULL
        ) STRICT;
        CREATE INDEX service_event_by_time ON service_event (machine, ts);

        CREATE TABLE alarm_change (
            id INTEGER PRIMARY KEY,
            ts INTEGER NOT NULL,
            machine TEXT NOT NULL,
            condition TEXT NOT NULL,
            state TEXT NOT NULL,
            priority TEXT NOT NULL,
            value ANY,
            "limit" ANY,
            unit TEXT NOT NULL,
            job TEXT,
            message TEXT NOT NULL,
            evidence TEXT NOT NULL,
            checks TEXT NOT NULL,
            by TEXT
        ) STRICT;
        CREATE INDEX alarm_change_by_time ON alarm_change (ts);
        CREATE INDEX alarm_change_by_machine ON alarm_change (machine, ts);
        CREATE INDEX alarm_change_by_condition ON alarm_change (machine, condition, ts);

        CREATE TABLE gap (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            from_ts INTEGER NOT NULL,
            to_ts INTEGER NOT NULL,
            reason TEXT NOT NULL,
            lost INTEGER NOT NULL
        ) STRICT;
        CREATE INDEX gap_by_time ON gap (machine, from_ts);

        CREATE TABLE watch_state (
            machine TEXT PRIMARY KEY,
            state BLOB NOT NULL
        ) STRICT;

        CREATE TABLE delivery_session (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL UNIQUE,
            last_number INTEGER NOT NULL,
            last_use INTEGER NOT NULL
        ) STRICT;

        CREATE TABLE delivery (
            session_id INTEGER NOT NULL,
            packet_id INTEGER NOT NULL,
            content_hash INTEGER NOT NULL,
            number INTEGER NOT NULL,
            PRIMARY KEY (session_id, packet_id)
        ) STRICT, WITHOUT ROWID;
        """;

    /// <summary>
    /// Samples of hours that are over stand in packed blocks, one an hour of a series (<c>sealed_value</c>); hours of a machine with the
    /// same times share one block of them (<c>sealed_time</c>). <c>sealed_hour</c> is their directory, with the hour's summary. Minutes of
    /// samples deleted by age stand in a block a day of a series (<c>minute_day</c>). What is in a block is never in <c>sample</c> too.
    /// The numbers of blocks are made by <see cref="BlockKey"/>.
    /// </summary>
    private const string Version2 = """
        CREATE TABLE sealed_hour (
            series_id INTEGER NOT NULL,
            hour INTEGER NOT NULL,
            time_id INTEGER NOT NULL,
            n INTEGER NOT NULL,
            min REAL NOT NULL,
            mean REAL NOT NULL,
            max REAL NOT NULL,
            PRIMARY KEY (series_id, hour)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE sealed_value (
            id INTEGER PRIMARY KEY,
            block BLOB NOT NULL
        ) STRICT;

        CREATE TABLE sealed_time (
            id INTEGER PRIMARY KEY,
            block BLOB NOT NULL
        ) STRICT;

        CREATE TABLE minute_day (
            id INTEGER PRIMARY KEY,
            block BLOB NOT NULL
        ) STRICT;

        -- Of minutes whose samples are there the roll-ups can be worked out again; of the others they are all there is.
        INSERT INTO minute_day (id, block)
        SELECT key, pack_minutes(key, minute, n, min, mean, max) FROM (
            SELECT block_key(r.series_id, (r.minute - ((r.minute % 1440) + 1440) % 1440) / 1440) AS key, r.minute, r.n, r.min, r.mean, r.max
            FROM rollup_minute r JOIN series s ON s.id = r.series_id
            WHERE r.minute < s.sealed_before)
        GROUP BY key;

        DROP TABLE rollup_minute;
        DROP TABLE rollup_hour;
        DROP TABLE stale_minute;
        ALTER TABLE series DROP COLUMN sealed_before;
        """;

    /// <summary>
    /// Samples of hours that are not over stand in <c>tail</c>, a block for what one commit, or several, brought of one machine and hour, or in <c>sample</c>: the late ones, and where a
    /// commit brings few. Never in both. Of a series, a block's samples are later than those of all blocks with lower numbers.
    /// </summary>
    private const string Version3 = """
        CREATE TABLE tail (
            id INTEGER PRIMARY KEY,
            first INTEGER NOT NULL,
            last INTEGER NOT NULL,
            n INTEGER NOT NULL,
            block BLOB NOT NULL
        ) STRICT;

        -- As of PackedState.
        ALTER TABLE watch_state ADD COLUMN packing INTEGER NOT NULL DEFAULT 0;
        """;

    /// <summary>
    /// What a commit brings of many machines stands in <c>arrival</c> as one block (see PackedArrival), until some such are gathered into a block of <c>tail</c> for each machine and hour.
    /// What is in <c>arrival</c> is nowhere else, and of a series later than all that is in <c>tail</c>, as of a row with a lower number. A row that is damaged stays when the others
    /// are gathered.
    /// </summary>
    private const string Version4 = """
        CREATE TABLE arrival (
            id INTEGER PRIMARY KEY,
            first INTEGER NOT NULL,
            last INTEGER NOT NULL,
            n INTEGER NOT NULL,
            block BLOB NOT NULL
        ) STRICT;
        """;

    /// <summary>Takes every step that is missing, each in a transaction of its own.</summary>
    /// <exception cref="StoreException">The file is not ours, or newer than this program.</exception>
    public static void Migrate(SqliteConnection connection, IReadOnlyList<string> steps)
    {
        connection.CreateFunction<long, long, long>("block_key", BlockKey.Of, isDeterministic: true);
        connection.CreateAggregate<long, long, long, double, double, double, MinuteDay.Packing, byte[]>(
            "pack_minutes", MinuteDay.Packing.Nothing,
            (packing, key, minute, n, min, mean, max) => packing.Add(key, minute, new RollUpSum(n, min, mean, max)), packing => packing.Finish());
        for (var version = ReadVersion(connection, steps.Count); version < steps.Count; version++)
        {
            using var transaction = connection.BeginTransaction();
            // Another process may have taken the step while we waited for the transaction.
            if (ReadVersion(connection, steps.Count) == version)
            {
                Execute(connection, steps[version]);
                Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA application_id = {ApplicationId}; PRAGMA user_version = {version + 1};"));
            }

            transaction.Commit();
        }
    }

    /// <summary>The version of the file; 0 where it is empty.</summary>
    /// <exception cref="StoreException">The file is not ours, or newer than this program.</exception>
    public static int ReadVersion(SqliteConnection connection, int newest)
    {
        var version = Scalar(connection, "PRAGMA user_version");
        var application = Scalar(connection, "PRAGMA application_id");
        var tables = Scalar(connection, "SELECT count(*) FROM sqlite_schema");
        if (application != ApplicationId && (application != 0 || version != 0 || tables != 0))
            throw new StoreException($"{connection.DataSource} is an SQLite file of another program; give the store a path of its own.");
        if (version > newest)
            throw new StoreException($"{connection.DataSource} was written by a newer program (its tables are version {version}, this program knows {newest}); update this program, or give another path.");
        return (int)version;
    }

    public static void Execute(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is a constant of this folder, never input.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }

    private static long Scalar(SqliteConnection connection, string sql)
    {
        using var statement = new Statement(connection, sql);
        return statement.RunForInt64() ?? 0;
    }
}
