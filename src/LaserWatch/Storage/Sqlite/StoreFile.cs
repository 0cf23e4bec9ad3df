using System.Globalization;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The database file: makes it, and opens connections to it.</summary>
/// <remarks>
/// Made for owner and group (file 0660, folder 0770), writable for the group because a reader of a file in WAL mode must
/// write the shared index beside it. What exists keeps the rights that somebody gave it.
/// </remarks>
internal static class StoreFile
{
    private const UnixFileMode FileRights =
        UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite;

    private const UnixFileMode FolderRights = FileRights | UnixFileMode.UserExecute | UnixFileMode.GroupExecute;

    // Larger than a day's bursts need; a reader that stops half-way must not let the log grow without end.
    private const long MostLogBytes = 64L << 20;

    /// <summary>Pages that gather in the log before they are copied into the file.</summary>
    public const int LogPages = 1000;

    /// <summary>Opens for writing; makes the file and its folder where they are missing.</summary>
    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteConnection OpenForWriting(string path, double busySeconds) => Open(path, () =>
    {
        Make(path);
        var connection = Connect(path, busySeconds);
        try
        {
            Schema.Require(connection, mayBeEmpty: true); // before the file is touched: it may be somebody else's
            Schema.Execute(connection, string.Create(CultureInfo.InvariantCulture,
                $"PRAGMA auto_vacuum = INCREMENTAL; PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; PRAGMA wal_autocheckpoint = {LogPages}; PRAGMA journal_size_limit = {MostLogBytes}; PRAGMA cache_size = -16000;"));
            Schema.Make(connection);
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    });

    /// <summary>Opens for reading only, while another connection or process may write.</summary>
    /// <exception cref="StoreException">It cannot be opened: the message says why, and the mend.</exception>
    public static SqliteConnection OpenForReading(string path, double busySeconds) => Open(path, () =>
    {
        if (!File.Exists(path))
            throw new StoreException($"There is no store at {path}; start the agent once to make it, or give the path of its file.");
        // Not SQLite's own read-only mode: that cannot make the shared index when no writer is running.
        var connection = Connect(path, busySeconds);
        try
        {
            Schema.Execute(connection, "PRAGMA query_only = ON;");
            Schema.Require(connection, mayBeEmpty: false);
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    });

    /// <summary>The version of the file's tables, which may be older than this program's.</summary>
    /// <exception cref="StoreException">It is newer than this program, not ours, or cannot be opened.</exception>
    public static int VersionOf(string path)
    {
        var version = 0;
        using var connection = Open(path, () =>
        {
            var opened = Connect(path, busySeconds: 5);
            try
            {
                Schema.Execute(opened, "PRAGMA query_only = ON;");
                version = Schema.ReadVersion(opened);
                return opened;
            }
            catch
            {
                opened.Dispose();
                throw;
            }
        });
        return version;
    }

    internal static SqliteConnection Open(string path, Func<SqliteConnection> open)
    {
        try
        {
            return open();
        }
        catch (SqliteException e)
        {
            throw new StoreException($"The store {path} cannot be opened: {Explain(e, path)}", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new StoreException($"The store {path} cannot be opened: {e.Message.TrimEnd('.')}; give this user the right to write there, or another path.", e);
        }
    }

    private static string Explain(SqliteException e, string path) => e.SqliteErrorCode switch
    {
        SQLitePCL.raw.SQLITE_NOTADB => "it is not an SQLite file; move it away, or give another path.",
        SQLitePCL.raw.SQLITE_CORRUPT => "the file is damaged; put a copy in its place, or recover it with 'sqlite3 FILE .recover'.",
        SQLitePCL.raw.SQLITE_BUSY or SQLitePCL.raw.SQLITE_LOCKED => "another process holds it locked; end that, or try again.",
        SQLitePCL.raw.SQLITE_READONLY or SQLitePCL.raw.SQLITE_CANTOPEN or SQLitePCL.raw.SQLITE_PERM =>
            $"this user may not write in its folder, which SQLite needs even for reading; join the group that owns {Path.GetDirectoryName(Path.GetFullPath(path))}.",
        SQLitePCL.raw.SQLITE_FULL => "the disk is full; make room.",
        _ => $"SQLite says '{e.Message}'.",
    };

    internal static SqliteConnection Connect(string path, double busySeconds)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder
        {
            DataSource = path,
            Mode = SqliteOpenMode.ReadWrite,
            Pooling = false, // a closed store must let go of its file
            DefaultTimeout = Math.Max(1, (int)Math.Ceiling(busySeconds)),
        }.ToString());
        try
        {
            connection.Open();
            Schema.Execute(connection, string.Create(CultureInfo.InvariantCulture, $"PRAGMA busy_timeout = {(int)(busySeconds * 1000)};"));
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    internal static void Make(string path)
    {
        var folder = Path.GetDirectoryName(Path.GetFullPath(path))!;
        if (!Directory.Exists(folder))
        {
            if (OperatingSystem.IsWindows())
            {
                Directory.CreateDirectory(folder);
            }
            else
            {
                Directory.CreateDirectory(folder, FolderRights);
                File.SetUnixFileMode(folder, FolderRights); // the process's mask may have taken the group's share
            }
        }

        if (File.Exists(path))
            return;
        // SQLite gives its two side files the rights of this one.
        var options = new FileStreamOptions { Mode = FileMode.OpenOrCreate, Access = FileAccess.Write, Share = FileShare.ReadWrite };
        if (!OperatingSystem.IsWindows())
            options.UnixCreateMode = FileRights;
        using (new FileStream(path, options))
        {
        }

        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(path, FileRights);
    }
}
