using LaserWatch.Storage.Sqlite;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class SchemaTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    private string File => _folder.File("store.db");

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(1)]
    [InlineData(Schema.Version - 1)]
    public void A_file_of_an_older_program_is_refused_and_left_alone_and_the_message_says_how_to_carry_it_over(int version)
    {
        Execute($"CREATE TABLE sample (series_id INTEGER, ts INTEGER, value REAL); PRAGMA application_id = {Schema.ApplicationId}; PRAGMA user_version = {version};");
        var before = System.IO.File.ReadAllBytes(File);

        var writing = Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(new StoreOptions { Path = File }));
        var reading = Assert.Throws<StoreException>(() => SqliteTelemetryStore.OpenForReading(File));

        Assert.Equal(
            $"{File} was written by an older program (its tables are version {version}, this program needs {Schema.Version}); to carry it over, write each machine's recording with that program "
            + "(laserwatch record) and keep it in a new store with this one (laserwatch replay RECORDING --store FILE).",
            writing.Message);
        Assert.Equal(writing.Message, reading.Message);
        Assert.Equal(before, System.IO.File.ReadAllBytes(File));
    }

    [Fact]
    public async Task A_file_that_was_made_and_left_empty_becomes_a_store()
    {
        System.IO.File.WriteAllBytes(File, []);

        await SqliteTelemetryStore.Open(new StoreOptions { Path = File }).DisposeAsync();

        Assert.Equal([$"{Schema.Version}"], Read(File, "PRAGMA user_version"));
        await using var store = SqliteTelemetryStore.OpenForReading(File);
        Assert.Empty(await store.ReadMachinesAsync(default));
    }

    [Fact]
    public void A_file_of_a_newer_program_is_refused_and_left_alone()
    {
        Execute($"CREATE TABLE sample (ts INTEGER); PRAGMA application_id = {Schema.ApplicationId}; PRAGMA user_version = 99;");
        var before = System.IO.File.ReadAllBytes(File);

        var writing = Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(new StoreOptions { Path = File }));
        var reading = Assert.Throws<StoreException>(() => SqliteTelemetryStore.OpenForReading(File));

        Assert.Equal(
            $"{File} was written by a newer program (its tables are version 99, this program knows {Schema.Version}); update this program, or give another path.",
            writing.Message);
        Assert.Equal(writing.Message, reading.Message);
        Assert.Equal(before, System.IO.File.ReadAllBytes(File));
    }

    [Fact]
    public void An_SQLite_file_of_another_program_is_refused_and_left_alone()
    {
        Execute("CREATE TABLE recipe (id INTEGER PRIMARY KEY);");
        var before = System.IO.File.ReadAllBytes(File);

        var e = Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(new StoreOptions { Path = File }));

        Assert.Equal($"{File} is an SQLite file of another program; give the store a path of its own.", e.Message);
        Assert.Equal(before, System.IO.File.ReadAllBytes(File));
    }

    [Fact]
    public void A_file_that_is_no_database_is_refused_and_left_alone()
    {
        System.IO.File.WriteAllText(File, new string('x', 5000));

        var e = Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(new StoreOptions { Path = File }));

        Assert.Equal($"The store {File} cannot be opened: it is not an SQLite file; move it away, or give another path.", e.Message);
        Assert.Equal(new string('x', 5000), System.IO.File.ReadAllText(File));
    }

    [Fact]
    public void A_folder_in_place_of_the_file_is_one_clear_error()
    {
        Directory.CreateDirectory(File);

        var e = Assert.Throws<StoreException>(() => SqliteTelemetryStore.Open(new StoreOptions { Path = File }));

        Assert.StartsWith($"The store {File} cannot be opened: ", e.Message, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', e.Message);
    }

    [SkippableFact]
    public async Task The_file_and_the_folder_it_makes_are_for_owner_and_group()
    {
        Skip.If(OperatingSystem.IsWindows(), "Windows has no such rights.");
#pragma warning disable CA1416 // Skipped on Windows by the line above, which the analyzer does not see.
        var path = Path.Combine(_folder.Path, "data", "deep", "store.db");
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = path });
        var batch = new StoreBatch();
        NumberedBatch.Fill(batch, 0);
        await store.AppendAsync(batch, default);

        const UnixFileMode ForBoth = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite;
        Assert.Equal(
            [ForBoth, ForBoth, ForBoth, ForBoth | UnixFileMode.UserExecute | UnixFileMode.GroupExecute],
            new[] { path, path + "-wal", path + "-shm", Path.GetDirectoryName(path)! }.Select(System.IO.File.GetUnixFileMode));
#pragma warning restore CA1416
    }

    private static SqliteConnection Open(string path)
    {
        var connection = new SqliteConnection($"Data Source={path};Pooling=False");
        connection.Open();
        return connection;
    }

    private void Execute(string sql)
    {
        using var connection = Open(File);
        Schema.Execute(connection, sql);
    }

    private static List<string> Read(string path, string sql)
    {
        using var connection = Open(path);
        using var command = connection.CreateCommand();
#pragma warning disable CA2100 // The test's own constant.
        command.CommandText = sql;
#pragma warning restore CA2100
        using var reader = command.ExecuteReader();
        var rows = new List<string>();
        while (reader.Read())
            rows.Add(string.Join('|', Enumerable.Range(0, reader.FieldCount).Select(i => reader.IsDBNull(i) ? "" : reader.GetString(i))));
        return rows;
    }
}
