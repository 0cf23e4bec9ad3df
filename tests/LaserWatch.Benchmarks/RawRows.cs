using System.Diagnostics;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Benchmarks;

/// <summary>The yardstick: the same samples as plain rows by way of the raw library, in its best batches.</summary>
public static class RawRows
{
    public static StoreFigures Measure(string path, StoreTelemetry telemetry, int batch)
    {
        using var connection = Open(path);
        var watch = Stopwatch.StartNew();
        Write(connection, telemetry.Samples, batch);
        var write = watch.Elapsed.TotalSeconds;
        Run(connection, "PRAGMA wal_checkpoint(TRUNCATE)");
        var (all, scan) = Best(connection, "SELECT series, ts, value FROM sample");
        var (one, channel) = Best(connection, $"SELECT series, ts, value FROM sample WHERE series = {Channel.AirPressure.Index}");
        if (all != telemetry.Samples.Length)
            throw new InvalidOperationException("The rows read are not those written.");
        return new StoreFigures("rows, raw library", all, one, new FileInfo(path).Length, 0, write, 0, scan, channel);
    }

    /// <summary>Seconds for writing them all, in batches of so many.</summary>
    public static double Fill(string path, StoreTelemetry telemetry, int batch)
    {
        using var connection = Open(path);
        var watch = Stopwatch.StartNew();
        Write(connection, telemetry.Samples, batch);
        var seconds = watch.Elapsed.TotalSeconds;
        if (Scan(connection, "SELECT series, ts, value FROM sample") != telemetry.Samples.Length)
            throw new InvalidOperationException("The rows read are not those written.");
        return seconds;
    }

    private static SqliteConnection Open(string path)
    {
        var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        Run(connection, "PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; PRAGMA cache_size = -16000; CREATE TABLE sample (series INTEGER, ts INTEGER, value REAL, PRIMARY KEY (series, ts)) WITHOUT ROWID;");
        return connection;
    }

    private static void Write(SqliteConnection connection, Sample[] samples, int batch)
    {
        using var insert = connection.CreateCommand();
        insert.CommandText = "INSERT INTO sample VALUES ($series, $ts, $value)";
        var series = insert.Parameters.Add("$series", SqliteType.Integer);
        var ts = insert.Parameters.Add("$ts", SqliteType.Integer);
        var value = insert.Parameters.Add("$value", SqliteType.Real);
        insert.Prepare();
        foreach (var part in samples.Chunk(batch))
        {
            using var transaction = connection.BeginTransaction();
            insert.Transaction = transaction;
            foreach (var sample in part)
            {
                series.Value = sample.Channel.Index;
                ts.Value = sample.At.UnixNanoseconds;
                value.Value = sample.Value;
                insert.ExecuteNonQuery();
            }

            transaction.Commit();
        }
    }

    private static (long Rows, double Seconds) Best(SqliteConnection connection, string sql)
    {
        var best = double.PositiveInfinity;
        long rows = 0;
        for (var again = 0; again < StoreReport.Readings; again++)
        {
            var watch = Stopwatch.StartNew();
            rows = Scan(connection, sql);
            best = Math.Min(best, watch.Elapsed.TotalSeconds);
        }

        return (rows, best);
    }

    private static long Scan(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is a constant of this file.
        command.CommandText = sql;
#pragma warning restore CA2100
        using var reader = command.ExecuteReader();
        long count = 0;
        var sum = 0.0;
        while (reader.Read())
        {
            count++;
            sum += reader.GetInt64(0) + reader.GetInt64(1) + reader.GetDouble(2);
        }

        GC.KeepAlive(sum);
        return count;
    }

    private static void Run(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
#pragma warning disable CA2100 // The text is a constant of this file.
        command.CommandText = sql;
#pragma warning restore CA2100
        command.ExecuteNonQuery();
    }
}
