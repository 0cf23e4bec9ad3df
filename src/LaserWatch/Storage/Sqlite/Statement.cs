using System.Text;
using Microsoft.Data.Sqlite;
using SQLitePCL;

namespace LaserWatch.Storage.Sqlite;

/// <summary>A prepared statement, used again and again without allocating.</summary>
/// <remarks>
/// Goes below ADO.NET, whose commands make a reader and box each value at every execution. Parameters are numbered from 1,
/// columns from 0, as in SQLite. Not safe for several threads.
/// </remarks>
internal sealed class Statement : IDisposable
{
    private readonly sqlite3 _db;
    private readonly sqlite3_stmt _statement;

    public Statement(SqliteConnection connection, string sql)
    {
        _db = connection.Handle ?? throw new InvalidOperationException("The connection is not open.");
        Check(raw.sqlite3_prepare_v2(_db, sql, out _statement));
    }

    public Statement Bind(int place, long value)
    {
        Check(raw.sqlite3_bind_int64(_statement, place, value));
        return this;
    }

    /// <summary>SQLite has no NaN and would keep null instead, so it is kept as text.</summary>
    public Statement Bind(int place, double value)
    {
        Check(double.IsNaN(value) ? raw.sqlite3_bind_text(_statement, place, "NaN") : raw.sqlite3_bind_double(_statement, place, value));
        return this;
    }

    public Statement Bind(int place, double? value) => value is { } number ? Bind(place, number) : BindNull(place);

    public Statement Bind(int place, string? value)
    {
        if (value is null)
            return BindNull(place);
        Check(raw.sqlite3_bind_text(_statement, place, Encoding.UTF8.GetBytes(value)));
        return this;
    }

    public Statement Bind(int place, byte[] value)
    {
        Check(value.Length == 0 ? raw.sqlite3_bind_zeroblob(_statement, place, 0) : raw.sqlite3_bind_blob(_statement, place, value));
        return this;
    }

    /// <remarks>Not for empty ones, which SQLite takes for null.</remarks>
    public Statement Bind(int place, ReadOnlySpan<byte> value)
    {
        Check(raw.sqlite3_bind_blob(_statement, place, value));
        return this;
    }

    /// <summary>Goes to the next row; false at the end, where the statement is ready for its next use.</summary>
    public bool Step()
    {
        var result = raw.sqlite3_step(_statement);
        if (result == raw.SQLITE_ROW)
            return true;
        raw.sqlite3_reset(_statement);
        if (result != raw.SQLITE_DONE)
            SqliteException.ThrowExceptionForRC(result, _db);
        return false;
    }

    /// <summary>Runs to the end; the number of rows changed, for a statement that changes some.</summary>
    public int Run()
    {
        while (Step())
        {
        }

        return raw.sqlite3_changes(_db);
    }

    /// <summary>The first column of the first row as a number; null where there is no row, or the column is null.</summary>
    public long? RunForInt64()
    {
        if (!Step())
            return null;
        long? value = IsNull(0) ? null : Int64(0);
        Reset();
        return value;
    }

    public void Reset() => raw.sqlite3_reset(_statement);

    public bool IsNull(int column) => raw.sqlite3_column_type(_statement, column) == raw.SQLITE_NULL;

    public long Int64(int column) => raw.sqlite3_column_int64(_statement, column);

    public double Double(int column) =>
        raw.sqlite3_column_type(_statement, column) == raw.SQLITE_TEXT ? double.NaN : raw.sqlite3_column_double(_statement, column);

    public double? DoubleOrNull(int column) => IsNull(column) ? null : Double(column);

    /// <remarks>By way of the bytes: as text it would end at a NUL character.</remarks>
    public string Text(int column) => Encoding.UTF8.GetString(raw.sqlite3_column_blob(_statement, column));

    public string? TextOrNull(int column) => IsNull(column) ? null : Text(column);

    public byte[] Blob(int column) => raw.sqlite3_column_blob(_statement, column).ToArray();

    /// <summary>The bytes where SQLite keeps them: good until the statement goes on.</summary>
    public ReadOnlySpan<byte> Bytes(int column) => raw.sqlite3_column_blob(_statement, column);

    public void Dispose() => _statement.Dispose();

    private Statement BindNull(int place)
    {
        Check(raw.sqlite3_bind_null(_statement, place));
        return this;
    }

    private void Check(int result)
    {
        if (result != raw.SQLITE_OK)
            SqliteException.ThrowExceptionForRC(result, _db);
    }
}
