using System.Globalization;
using LaserWatch.Storage.Sqlite;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Influx;

/// <summary>The file beside the server: an SQLite file in WAL mode with what only the agent needs, and with what the server has not taken yet.</summary>
internal static class SideFile
{
    /// <summary>Marks the file as ours, in <c>PRAGMA application_id</c>: "LWSP" in ASCII. Not the embedded store's, so that neither takes the other's file.</summary>
    public const int ApplicationId = 0x4C575350;

    private const int Version = 1;

    private const UnixFileMode FileRights =
        UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite;

    private const UnixFileMode FolderRights = FileRights | UnixFileMode.UserExecute | UnixFileMode.GroupExecute;

    /// <summary>
    /// Times are nanoseconds since 1970 UTC. <c>spool</c>: appended batches in order, as line protocol, with the span of their times and
    /// the sum of their <see cref="LineKinds"/>, so that the few events are found among the many samples.
    /// <c>refused</c>: lines that the server would not take, with its words. <c>event_time</c>: the times that runs, service events
    /// and alarms have at the server, and by how much they were moved so that none replaces another; <c>series</c> is measurement and tags.
    /// </summary>
    private const string Tables = """
        CREATE TABLE spool (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            first_ts INTEGER NOT NULL,
            last_ts INTEGER NOT NULL,
            kinds INTEGER NOT NULL,
            lines INTEGER NOT NULL,
            bytes INTEGER NOT NULL,
            text BLOB NOT NULL
        ) STRICT;
        CREATE INDEX spool_by_time ON spool (last_ts, first_ts, bytes);
        CREATE INDEX spool_events ON spool (id) WHERE kinds > 1;

        CREATE TABLE refused (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            why TEXT NOT NULL,
            lines INTEGER NOT NULL,
            bytes INTEGER NOT NULL,
            text BLOB NOT NULL
        ) STRICT;

        CREATE TABLE size (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            bytes INTEGER NOT NULL
        ) STRICT;
        INSERT INTO size (id, bytes) VALUES (1, 0);

        CREATE TABLE event_time (
            series TEXT NOT NULL,
            ts INTEGER NOT NULL,
            moved INTEGER NOT NULL,
            PRIMARY KEY (series, ts)
        ) STRICT, WITHOUT ROWID;
        CREATE INDEX event_time_moved ON event_time (series, ts, moved) WHERE moved <> 0;

        CREATE TABLE machine (
            name TEXT PRIMARY KEY
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE channel (
            machine TEXT NOT NULL,
            name TEXT NOT NULL,
            unit TEXT NOT NULL,
            PRIMARY KEY (machine, name)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE gap (
            id INTEGER PRIMARY KEY,
            machine TEXT NOT NULL,
            from_ts INTEGER NOT NULL,
            to_ts INTEGER NOT NULL,
            reason TEXT NOT NULL,
            lost INTEGER NOT NULL,
            refused_id INTEGER
        ) STRICT;
        CREATE INDEX gap_by_time ON gap (machine, from_ts);
        CREATE INDEX gap_by_refused ON gap (refused_id) WHERE refused_id IS NOT NULL;

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

    /// <summary>Opens for writing; makes the file and its folder where they are missing.</summary>
    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteConnection OpenForWriting(string path, double busySeconds) => Open(path, () =>
    {
        Make(path);
        var connection = Connect(path, busySeconds);
        return Prepared(connection, () =>
        {
            ReadVersion(connection); // before the file is touched: it may be somebody else's
            Schema.Execute(connection, "PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; PRAGMA journal_size_limit = 67108864; PRAGMA cache_size = -8000;");
            using var transaction = connection.BeginTransaction();
            if (ReadVersion(connection) == 0) // or another process has made the tables meanwhile
                Schema.Execute(connection, string.Create(CultureInfo.InvariantCulture, $"{Tables} PRAGMA application_id = {ApplicationId}; PRAGMA user_version = {Version};"));
            transaction.Commit();
        });
    });

    /// <summary>Opens for reading only, while another connection or process may write.</summary>
    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteConnection OpenForReading(string path, double busySeconds) => Open(path, () =>
    {
        if (!File.Exists(path))
            throw new StoreException($"There is no spool at {path} yet; start the agent once to make it, or put store.path right.");
        // Not SQLite's own read-only mode: that cannot make the shared index when no writer is running.
        var connection = Connect(path, busySeconds);
        return Prepared(connection, () =>
        {
            Schema.Execute(connection, "PRAGMA query_only = ON;");
            if (ReadVersion(connection) == 0)
                throw new StoreException($"{path} is empty; start the agent once on it, or put store.path right.");
        });
    });

    private static int ReadVersion(SqliteConnection connection)
    {
        var version = Scalar("PRAGMA user_version");
        var application = Scalar("PRAGMA application_id");
        if (application == Schema.ApplicationId)
            throw new StoreException($"{connection.DataSource} is an embedded store, with samples of its own; with store.influx, give store.path another file. 'record' and 'replay --store' move what it holds.");
        if (application != ApplicationId && (application != 0 || version != 0 || Scalar("SELECT count(*) FROM sqlite_schema") != 0))
            throw new StoreException($"{connection.DataSource} is an SQLite file of another program; give store.path a file of its own.");
        if (version > Version)
            throw new StoreException($"{connection.DataSource} was written by a newer program (its tables are version {version}, this program knows {Version}); update this program, or give another store.path.");
        return (int)version;

        long Scalar(string sql)
        {
            using var statement = new Statement(connection, sql);
            return statement.RunForInt64() ?? 0;
        }
    }

    private static SqliteConnection Prepared(SqliteConnection connection, Action prepare)
    {
        try
        {
            prepare();
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    private static SqliteConnection Connect(string path, double busySeconds)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder
        {
            DataSource = path,
            Mode = SqliteOpenMode.ReadWrite,
            Pooling = false, // a closed store must let go of its file
            DefaultTimeout = Math.Max(1, (int)Math.Ceiling(busySeconds)),
        }.ToString());
        return Prepared(connection, () =>
        {
            connection.Open();
            Schema.Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA busy_timeout = {(int)(busySeconds * 1000)};"));
        });
    }

    private static SqliteConnection Open(string path, Func<SqliteConnection> open)
    {
        try
        {
            return open();
        }
        catch (SqliteException e)
        {
            throw new StoreException($"The spool {path} cannot be opened: SQLite says '{e.Message}'; see that it is an SQLite file, that this user may write in its folder, and that the disk has room.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new StoreException($"The spool {path} cannot be opened: {e.Message.TrimEnd('.')}; give this user the right to write there, or another store.path.", e);
        }
    }

    /// <remarks>The group may write too: a reader of a file in WAL mode must write the shared index beside it.</remarks>
    private static void Make(string path)
    {
        var folder = Path.GetDirectoryName(Path.GetFullPath(path))!;
        if (!Directory.Exists(folder))
        {
            Directory.CreateDirectory(folder);
            if (!OperatingSystem.IsWindows())
                File.SetUnixFileMode(folder, FolderRights);
        }

        if (File.Exists(path))
            return;
        using (new FileStream(path, FileMode.OpenOrCreate, FileAccess.Write, FileShare.ReadWrite))
        {
        }

        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(path, FileRights);
    }
}
