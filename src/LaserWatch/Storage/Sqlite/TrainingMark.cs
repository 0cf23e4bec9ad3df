using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The mark of a store whose data are of training, and of no real machine: a table of one row, in such stores only.</summary>
/// <remarks>
/// No step of <see cref="Schema"/>: a live store stays as it is, and every store is one or the other from its beginning to its end. With
/// InfluxDB the mark stands in the file beside it.
/// </remarks>
internal static class TrainingMark
{
    private const string Mark = """
        CREATE TABLE training (mark TEXT NOT NULL) STRICT;
        INSERT INTO training (mark) VALUES ('played for training; these data are of no real machine');
        """;

    /// <exception cref="StoreException">The file cannot be read.</exception>
    public static bool IsOn(string path)
    {
        if (!File.Exists(path))
            return false;
        return Look(path, connection => Holds(connection, "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'training')"));
    }

    /// <summary>To be asked before a store is opened for writing: training data and those of real machines never stand in one.</summary>
    /// <exception cref="StoreException">It holds those of the other kind.</exception>
    public static void RefuseOther(string path, bool training)
    {
        var marked = IsOn(path);
        if (marked && !training)
            throw new StoreException($"{path} holds training data, and what is to be stored is not marked as such: give it a store.path of its own, or set \"training\": true.");
        if (training && !marked && File.Exists(path) && !Look(path, IsEmpty))
            throw new StoreException($"{path} holds data of real machines, and training data must never stand among them: give training a store.path of its own.");
    }

    /// <summary>Marks a store that is there and empty.</summary>
    /// <exception cref="StoreException">The file cannot be written.</exception>
    public static void Put(string path)
    {
        if (IsOn(path))
            return;
        Look(path, connection =>
        {
            Schema.Execute(connection, Mark);
            return true;
        });
    }

    private static bool IsEmpty(SqliteConnection connection)
    {
        string[] tables = ["series", "job_run", "service_event", "alarm_change", "machine"]; // of the embedded store, and of the file beside a server
        return tables.All(table =>
            !Holds(connection, $"SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = '{table}')") || !Holds(connection, $"SELECT EXISTS (SELECT 1 FROM {table})"));
    }

    private static bool Look(string path, Func<SqliteConnection, bool> look)
    {
        var seen = false;
        using var connection = StoreFile.Open(path, () =>
        {
            var opened = StoreFile.Connect(path, busySeconds: 5);
            try
            {
                seen = look(opened);
                return opened;
            }
            catch
            {
                opened.Dispose();
                throw;
            }
        });
        return seen;
    }

    private static bool Holds(SqliteConnection connection, string sql)
    {
        using var statement = new Statement(connection, sql);
        return statement.RunForInt64() == 1;
    }
}
