using System.Globalization;
using DuckDB.NET.Data;
using LaserWatch.Alarms;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>What is exported is read back by a general-purpose database that shares no code with the writer.</summary>
public sealed class ExportFileTests : IDisposable
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch").FullName;
    private readonly InMemoryTelemetryStore _store = new();

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData("bay1.csv")]
    [InlineData("bay1.csv.gz")]
    [InlineData("bay1.parquet")]
    public async Task Another_database_reads_the_samples_as_they_were(string name)
    {
        await FillAsync();
        var path = Path.Combine(_folder, name);

        var extent = await WriteAsync(path);

        Assert.Equal((3L, 4), (extent.Rows, extent.Columns));
        Assert.Equal(
            [
                "2026-03-09 08:00:00||18.2|66|21.0625|",
                "2026-03-09 08:00:00.25|birch, 6 \"mm\"|18.300000000000004||21.125|-120",
                "2026-03-09 08:00:01||0.1|||",
            ],
            Query($"SELECT time{(name.EndsWith("parquet", StringComparison.Ordinal) ? "" : "_utc")}::TIMESTAMP, job, tube_current_mA, power_percent, coolant_in_degC, exhaust_Pa FROM '{path}' ORDER BY 1"));
    }

    [Fact]
    public async Task A_table_keeps_nanoseconds()
    {
        var at = new Instant(Start.UnixNanoseconds + 123_456_789);
        var batch = new StoreBatch();
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, at, 18)));
        await _store.AppendAsync(batch, default);

        await WriteAsync(Path.Combine(_folder, "a.parquet"));
        await WriteAsync(Path.Combine(_folder, "a.csv"));

        Assert.Equal([at.UnixNanoseconds.ToString(CultureInfo.InvariantCulture)], Query($"SELECT time_ns FROM '{_folder}/a.parquet'"));
        Assert.StartsWith("2026-03-09 08:00:00.123456789,,18", (await File.ReadAllLinesAsync(Path.Combine(_folder, "a.csv")))[1], StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("bay1.csv", "bay1.events.csv")]
    [InlineData("bay1.parquet", "bay1.events.parquet")]
    public async Task What_is_no_sample_stands_in_a_second_table(string name, string second)
    {
        await FillAsync();

        var extent = await WriteAsync(Path.Combine(_folder, name));

        Assert.Equal(Path.Combine(_folder, second), extent.EventsFile);
        Assert.Equal(
            [
                "job_record|birch, 6 \"mm\"|recorded||||{\"power_percent\":66,\"air_pressure_kpa\":210,\"mode\":\"vector\"}",
                "job_run|birch, 6 \"mm\"|start||||",
                "service|lens|cleaned|||two\nlines|",
                "job_run||end||||{\"inferred\":\"true\"}",
                "alarm|air-pressure-low|acknowledged|151|ana|pressure is low|{\"limit\":189}",
            ],
            Query($"SELECT kind, subject, action, value, \"by\", text, details FROM '{extent.EventsFile}'"));
    }

    [Fact]
    public async Task A_machine_without_events_still_gives_a_table_of_them()
    {
        var batch = new StoreBatch();
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start, 18)));
        await _store.AppendAsync(batch, default);

        var extent = await WriteAsync(Path.Combine(_folder, "a.parquet"));

        Assert.Equal(0, extent.Events);
        Assert.Equal(["0"], Query($"SELECT count(*) FROM '{extent.EventsFile}'"));
    }

    [Fact]
    public async Task Rows_beyond_one_block_are_all_there()
    {
        var batch = new StoreBatch();
        for (var i = 0; i < 70_000; i++)
            batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(i), i)));
        await _store.AppendAsync(batch, default);

        await WriteAsync(Path.Combine(_folder, "a.parquet"));

        Assert.Equal(["70000|0|69999|2449965000"], Query($"SELECT count(*), min(tube_current_mA)::INT, max(tube_current_mA)::INT, sum(tube_current_mA)::BIGINT FROM '{_folder}/a.parquet'"));
    }

    [Theory]
    [InlineData("%", "power_percent")]
    [InlineData("%RH", "power_percent_RH")]
    [InlineData("L/min", "power_L_per_min")]
    [InlineData("°C", "power_degC")]
    [InlineData("m³/h", "power_m3_per_h")]
    [InlineData("", "power")]
    public void A_column_is_named_by_channel_and_unit(string unit, string name) =>
        Assert.Equal(name.Replace("power", "draught", StringComparison.Ordinal), ColumnName.Of(new ChannelTable().Declare("draught", unit)));

    private Task<ExportExtent> WriteAsync(string path) => ExportFile.WriteAsync(
        _store, "bay1", Instant.MinValue, Instant.MaxValue, path, path.EndsWith(".parquet", StringComparison.Ordinal), default);

    private async Task FillAsync()
    {
        var exhaust = new ChannelTable().Declare("exhaust", "Pa");
        var quarter = Start + TimeSpan.FromMilliseconds(250);
        var batch = new StoreBatch();
        batch.Samples.AddRange([
            ("bay1", new(Channel.TubeCurrent, Start, 18.2)), ("bay1", new(Channel.Power, Start, 66)), ("bay1", new(Channel.CoolantIn, Start, 21.0625)),
            ("bay1", new(Channel.TubeCurrent, quarter, 18.300000000000004)), ("bay1", new(Channel.CoolantIn, quarter, 21.125)), ("bay1", new(exhaust, quarter, -120)),
            ("bay1", new(Channel.TubeCurrent, Start + TimeSpan.FromSeconds(1), 0.1)), ("bay2", new(Channel.TubeCurrent, Start, 1)),
        ]);
        batch.JobRecords.Add(new JobRecord("birch, 6 \"mm\"", Start - TimeSpan.FromDays(1), null, new PowerPercent(66), null, new Kilopascals(210), null));
        batch.JobRuns.Add(new JobEvent("bay1", quarter, JobEventKind.Start, "birch, 6 \"mm\""));
        batch.JobRuns.Add(new JobEvent("bay1", Start + TimeSpan.FromSeconds(1), JobEventKind.End, null, Inferred: true));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", Start + TimeSpan.FromMilliseconds(500), "lens", "cleaned", null, "two\nlines", ServiceEvent.NoDetails));
        batch.AlarmChanges.Add(new AlarmChange(
            Start + TimeSpan.FromMinutes(1), "bay1", "air-pressure-low", AlarmState.Acknowledged, AlarmPriority.High, 151, 189, "kPa", null, "pressure is low",
            [new Evidence("limit", 189)], [], "ana"));
        await _store.AppendAsync(batch, default);
    }

    private static List<string> Query(string sql)
    {
        using var database = new DuckDBConnection("DataSource=:memory:");
        database.Open();
        using var command = database.CreateCommand();
#pragma warning disable CA2100 // Only the test's own file names stand in it.
        command.CommandText = sql;
#pragma warning restore CA2100
        using var reader = command.ExecuteReader();
        List<string> rows = [];
        while (reader.Read())
        {
            rows.Add(string.Join('|', Enumerable.Range(0, reader.FieldCount).Select(i => reader.IsDBNull(i) ? "" : reader.GetValue(i) switch
            {
                DateTime time => time.ToString("yyyy-MM-dd HH:mm:ss.FFFFFF", CultureInfo.InvariantCulture),
                double number => number.ToString("R", CultureInfo.InvariantCulture),
                var other => Convert.ToString(other, CultureInfo.InvariantCulture),
            })));
        }

        return rows;
    }
}
