using System.Globalization;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The tables of the store. A change of them is a new <see cref="Version"/>: a file of another version is refused.</summary>
internal static class Schema
{
    /// <summary>Marks the file as ours, in <c>PRAGMA application_id</c>: "LWTS" in ASCII.</summary>
    public const int ApplicationId = 0x4C575453;

    /// <summary>Stands in <c>PRAGMA user_version</c>.</summary>
    public const int Version = 5;

    /// <summary>
    /// Times are nanoseconds since 1970 UTC, hours whole ones since then. A sample is a row of <c>sample</c> or in a sealed hour, never in both. Rows lie by machine (the
    /// first of its series) and time, so that what is committed together lies together. <c>sealed_hour</c> lists the sealed hours and their summaries: values are a block an hour
    /// of a series (<c>sealed_value</c>), and series of a machine with the same times share a block of them (<c>sealed_time</c>). <c>minute_day</c> keeps the minutes of samples
    /// that were deleted by age. Blocks are numbered by <see cref="BlockKey"/>. <c>watch_state</c> is packed by <see cref="PackedState"/>.
    /// </summary>
    private const string Tables = """
        CREATE TABLE series (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            channel TEXT NOT NULL,
            unit TEXT NOT NULL,
            duplicates INTEGER NOT NULL DEFAULT 0,
            conflicts INTEGER NOT NULL DEFAULT 0,
            UNIQUE (machine, channel)
        ) STRICT;

        CREATE TABLE sample (
            machine_id INTEGER NOT NULL,
            ts INTEGER NOT NULL,
            series_id INTEGER NOT NULL,
            value REAL NOT NULL,
            PRIMARY KEY (machine_id, ts, series_id)
        ) STRICT, WITHOUT ROWID;

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

    /// <summary>Makes the tables where the file is empty.</summary>
    /// <exception cref="StoreException">The file is not ours, or of another version.</exception>
    public static void Make(SqliteConnection connection)
    {
        using var transaction = connection.BeginTransaction();
        if (ReadVersion(connection) == 0)
            Execute(connection, Tables + string.Create(CultureInfo.InvariantCulture, $"PRAGMA application_id = {ApplicationId}; PRAGMA user_version = {Version};"));
        Require(connection, mayBeEmpty: false);
        transaction.Commit();
    }

    /// <exception cref="StoreException">The file is not ours, or of another version.</exception>
    public static void Require(SqliteConnection connection, bool mayBeEmpty)
    {
        var version = ReadVersion(connection);
        if (version == 0 && !mayBeEmpty)
            throw new StoreException($"{connection.DataSource} is empty; start the agent once to make the store.");
        if (version is > 0 and < Version)
        {
            throw new StoreException(
                $"{connection.DataSource} was written by an older program (its tables are version {version}, this program needs {Version}); to carry it over, write each machine's recording with that program "
                + "(laserwatch record) and keep it in a new store with this one (laserwatch replay RECORDING --store FILE).");
        }
    }

    /// <summary>The version of the file, which may be older than this program's; 0 where it is empty.</summary>
    /// <exception cref="StoreException">The file is not ours, or newer than this program.</exception>
    public static int ReadVersion(SqliteConnection connection)
    {
        var version = Scalar(connection, "PRAGMA user_version");
        var application = Scalar(connection, "PRAGMA application_id");
        var tables = Scalar(connection, "SELECT count(*) FROM sqlite_schema");
        if (application != ApplicationId && (application != 0 || version != 0 || tables != 0))
            throw new StoreException($"{connection.DataSource} is an SQLite file of another program; give the store a path of its own.");
        if (version > Version)
            throw new StoreException($"{connection.DataSource} was written by a newer program (its tables are version {version}, this program knows {Version}); update this program, or give another path.");
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
