using System.Globalization;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Delivery;

/// <summary>The outbox's own SQLite file, beside the store's: makes it, and opens it.</summary>
/// <remarks>Every commit reaches the disk itself (<c>synchronous = FULL</c>): what was taken must outlive a power cut, and it is little.</remarks>
internal static class OutboxFile
{
    /// <summary>Marks the file as ours, in <c>PRAGMA application_id</c>: "LWOB" in ASCII.</summary>
    public const int ApplicationId = 0x4C574F42;

    private const int Version = 2;
    private const double BusySeconds = 5;

    /// <summary>
    /// Times are nanoseconds since 1970 UTC. <c>taken</c>: every change that was offered, once, in the order of its taking; with
    /// <c>same_as</c>, one that tells nothing new. <c>item</c>: a change that an outlet is to be told, because it is news (<c>step</c> 0) or
    /// by that step of <c>ifUnanswered</c>; without a message it is <c>held</c> until <c>due</c> (1: by the clock, 2: in a flood); message 0: it need not be told any more.
    /// <c>message</c>: what goes to an outlet at once, in order; delivered ones stay for a while. <c>unanswered</c>: what is to come, or came.
    /// </summary>
    private const string Tables = """
        CREATE TABLE taken (
            seq INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL UNIQUE,
            machine TEXT NOT NULL,
            condition TEXT NOT NULL,
            state INTEGER NOT NULL,
            priority INTEGER NOT NULL,
            transition INTEGER,
            ts INTEGER NOT NULL,
            taken_at INTEGER NOT NULL,
            same_as TEXT,
            json BLOB NOT NULL
        ) STRICT;
        CREATE INDEX taken_by_alarm ON taken (machine, condition, seq) WHERE same_as IS NULL;
        CREATE INDEX taken_by_age ON taken (taken_at);

        CREATE TABLE message (
            seq INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            outlet TEXT NOT NULL,
            cause INTEGER NOT NULL,
            step INTEGER NOT NULL,
            due INTEGER NOT NULL,
            state INTEGER NOT NULL DEFAULT 0,
            settled_at INTEGER,
            why TEXT,
            UNIQUE (outlet, id)
        ) STRICT;
        CREATE INDEX message_waiting ON message (outlet, seq) WHERE state = 0;
        CREATE INDEX message_settled ON message (settled_at) WHERE state <> 0;

        CREATE TABLE item (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            outlet TEXT NOT NULL,
            change_seq INTEGER NOT NULL,
            step INTEGER NOT NULL,
            due INTEGER NOT NULL,
            held INTEGER NOT NULL,
            message INTEGER,
            UNIQUE (outlet, change_seq, step)
        ) STRICT;
        CREATE INDEX item_held ON item (outlet, due) WHERE message IS NULL;
        CREATE INDEX item_by_message ON item (message);

        CREATE TABLE unanswered (
            machine TEXT NOT NULL,
            condition TEXT NOT NULL,
            step INTEGER NOT NULL,
            change_seq INTEGER NOT NULL,
            due INTEGER NOT NULL,
            sent INTEGER NOT NULL DEFAULT 0,
            PRIMARY KEY (machine, condition, step)
        ) STRICT, WITHOUT ROWID;
        CREATE INDEX unanswered_due ON unanswered (due) WHERE sent = 0;

        CREATE TABLE begun (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            at INTEGER NOT NULL
        ) STRICT;
        """;

    /// <summary>Where the outbox of a store is.</summary>
    public static string PathBeside(string storePath) => Path.ChangeExtension(storePath, ".outbox.db");

    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteConnection Open(string path, Instant now)
    {
        try
        {
            StoreFile.Make(path);
            var connection = StoreFile.Connect(path, BusySeconds);
            try
            {
                Prepare(connection, now);
                return connection;
            }
            catch
            {
                connection.Dispose();
                throw;
            }
        }
        catch (SqliteException e)
        {
            throw new StoreException($"The outbox {path} cannot be opened: SQLite says '{e.Message}'; see that it is an SQLite file, that this user may write in its folder, and that the disk has room.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new StoreException($"The outbox {path} cannot be opened: {e.Message.TrimEnd('.')}; give this user the right to write there, or another store.path.", e);
        }
    }

    private static void Prepare(SqliteConnection connection, Instant now)
    {
        ReadVersion(connection); // before the file is touched: it may be somebody else's
        Schema.Execute(connection, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA journal_size_limit = 16777216;");
        using var transaction = connection.BeginTransaction();
        if (ReadVersion(connection) == 0)
        {
            Schema.Execute(connection, string.Create(CultureInfo.InvariantCulture,
                $"{Tables} INSERT INTO begun (id, at) VALUES (1, {now.UnixNanoseconds}); PRAGMA application_id = {ApplicationId}; PRAGMA user_version = {Version};"));
        }

        transaction.Commit();
    }

    private static long ReadVersion(SqliteConnection connection)
    {
        var version = Scalar("PRAGMA user_version");
        var application = Scalar("PRAGMA application_id");
        if (application != ApplicationId && (application != 0 || version != 0 || Scalar("SELECT count(*) FROM sqlite_schema") != 0))
            throw new StoreException($"{connection.DataSource} is an SQLite file of another program; move it away, or give another store.path.");
        if (version == 1)
            throw new StoreException($"{connection.DataSource} was written by a program of before the first release; move it away, and what waited in it is not sent.");
        if (version > Version)
            throw new StoreException($"{connection.DataSource} was written by a newer program (its tables are version {version}, this program knows {Version}); update this program.");
        return version;

        long Scalar(string sql)
        {
            using var statement = new Statement(connection, sql);
            return statement.RunForInt64() ?? 0;
        }
    }
}
