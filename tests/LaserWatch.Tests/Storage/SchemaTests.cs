using LaserWatch.Storage.Sqlite;
using LaserWatch.StoreWriter;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage;

public sealed class SchemaTests : IDisposable
{
    /// <summary>The tables of version 1 as they were released, and a little of everything in them. Never to be changed.</summary>
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

        PRAGMA application_id = 1280791635;
        PRAGMA user_version = 1;

        INSERT INTO series (id, machine, channel, unit, sealed_before, duplicates, conflicts) VALUES (1, 'bay1', 'tube_current', 'mA', 29550690, 2, 1);
        INSERT INTO sample VALUES (1, 1773041400000000001, 18.2), (1, 1773041401000000000, 18.0);
        INSERT INTO stale_minute VALUES (1, 29550690);
        INSERT INTO rollup_minute VALUES (1, 29550689, 4, 17.0, 18.0, 19.0);
        INSERT INTO rollup_hour VALUES (1, 492511, 4, 17.0, 18.0, 19.0);
        INSERT INTO job_record VALUES ('birch-6-cut', 1773014400000000000, 'birch plywood 6 mm', 66, 11, 210, 18.2, 'vector', NULL);
        INSERT INTO job_run (machine, ts, event, job, inferred) VALUES ('bay1', 1773041390000000000, 'start', 'birch-6-cut', 0);
        INSERT INTO service_event (machine, ts, part, action, serial, note, details) VALUES ('bay1', 1773014400000000000, 'tube', 'replaced', 'T-000001', NULL, '{}');
        INSERT INTO alarm_change (ts, machine, condition, state, priority, value, "limit", unit, job, message, evidence, checks, by)
        VALUES (1773041460000000000, 'bay1', 'air-pressure-low', 'unacknowledged', 'high', 151.0, 189.0, 'kPa', 'birch-6-cut', 'low',
            '[{"name":"recorded","number":210}]', '["hose"]', NULL);
        INSERT INTO gap (machine, from_ts, to_ts, reason, lost) VALUES ('bay1', 1, 2, 'store queue full', 3);
        INSERT INTO watch_state VALUES ('bay1', x'0102');
        INSERT INTO delivery_session VALUES (1, 'agent-1', 1, 1);
        INSERT INTO delivery VALUES (1, 7, 42, 1);
        """;

    private readonly TemporaryFolder _folder = new();

    private string File => _folder.File("store.db");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_file_of_version_1_opens_with_everything_in_it()
    {
        Execute(Version1);

        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = File });

        Assert.Equal(
            [new Sample(Channel.TubeCurrent, new Instant(1773041400000000001), 18.2), new Sample(Channel.TubeCurrent, new Instant(1773041401000000000), 18.0)],
            await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync());
        Assert.Equal(
            [new RollUp(new Instant(29550689 * 60_000_000_000), 4, 17, 18, 19), new RollUp(new Instant(29550690 * 60_000_000_000), 2, 18, 18.1, 18.2)],
            await store.ReadRollUpsAsync("bay1", Channel.TubeCurrent, RollUpSpan.Minute, Instant.MinValue, Instant.MaxValue, default).ToListAsync());
        Assert.Equal(new IgnoredSamples(2, 1), await store.ReadIgnoredAsync("bay1", default));
        Assert.Single(await store.ReadJobRecordsAsync(default));
        Assert.Single(await store.ReadJobRunsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Single(await store.ReadServiceEventsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Single(await store.ReadAlarmChangesAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Single(await store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default));
        Assert.Equal(new byte[] { 1, 2 }, await store.ReadWatchStateAsync("bay1", default));
        Assert.True(await store.WasDeliveredAsync(new PacketDelivery("agent-1", 7, 42), default));
    }

    [Fact]
    public async Task A_file_of_version_2_keeps_its_rows_and_its_states()
    {
        using (var connection = Open(File))
            Schema.Migrate(connection, [.. Schema.Steps.Take(2)]);
        Execute("""
            INSERT INTO series (id, machine, channel, unit) VALUES (1, 'bay1', 'tube_current', 'mA');
            INSERT INTO sample VALUES (1, 1773041400000000001, 18.2), (1, 1773041401000000000, 18.0);
            INSERT INTO watch_state VALUES ('bay1', x'0102');
            """);
        var more = new StoreBatch();
        for (var i = 0; i < 6; i++)
            more.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, new Instant(1773041401000000000 + i), 19 + i)));

        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = File });
        await store.AppendAsync(more, default);

        Assert.Equal(
            [18.2, 18.0, 20, 21, 22, 23, 24],
            (await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync()).Select(sample => sample.Value));
        Assert.Equal(new IgnoredSamples(Duplicates: 0, Conflicts: 1), await store.ReadIgnoredAsync("bay1", default));
        Assert.Equal(new byte[] { 1, 2 }, await store.ReadWatchStateAsync("bay1", default));
    }

    [Fact]
    public async Task A_file_of_version_1_ends_up_with_the_tables_of_a_new_one()
    {
        Execute(Version1);
        await SqliteTelemetryStore.Open(new StoreOptions { Path = File }).DisposeAsync();
        var fresh = _folder.File("fresh.db");
        await SqliteTelemetryStore.Open(new StoreOptions { Path = fresh }).DisposeAsync();

        Assert.Equal(Read(fresh, "SELECT name, sql FROM sqlite_schema ORDER BY name"), Read(File, "SELECT name, sql FROM sqlite_schema ORDER BY name"));
        Assert.Equal([$"{Schema.Version}"], Read(File, "PRAGMA user_version"));
    }

    [Fact]
    public void A_later_step_is_taken_once_and_keeps_what_is_there()
    {
        Execute(Version1);
        string[] steps = [Schema.Steps[0], "ALTER TABLE gap ADD COLUMN channel TEXT; UPDATE gap SET lost = lost + 1;"];

        for (var time = 0; time < 2; time++)
        {
            using var connection = Open(File);
            Schema.Migrate(connection, steps);
        }

        Assert.Equal(["2"], Read(File, "PRAGMA user_version"));
        Assert.Equal(["4|"], Read(File, "SELECT lost, channel FROM gap"));
    }

    [Fact]
    public void A_step_that_fails_leaves_the_file_as_it_was()
    {
        Execute(Version1);
        using (var connection = Open(File))
            Assert.Throws<SqliteException>(() => Schema.Migrate(connection, [Schema.Steps[0], "DELETE FROM gap; SELECT nonsense;"]));

        Assert.Equal(["1"], Read(File, "PRAGMA user_version"));
        Assert.Equal(["3"], Read(File, "SELECT lost FROM gap"));
    }

    [Fact]
    public void A_file_of_a_newer_program_is_refused_and_left_alone()
    {
        Execute(Version1);
        Execute("PRAGMA user_version = 99;");
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
