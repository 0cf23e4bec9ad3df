using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public sealed class RecordingWriterTests : IDisposable
{
    private const long Start = 1773041400000000000;
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-record-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static Instant At(double seconds) => new(Start + (long)(seconds * 1e9));

    private async Task<SqliteTelemetryStore> StoreAsync()
    {
        var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(_folder, "store.db") });
        var batch = new StoreBatch();
        batch.JobRecords.Add(new JobRecord("birch", At(-3600), null, new PowerPercent(66), null, new Kilopascals(210), null));
        batch.JobRuns.Add(new JobEvent("bay1", At(-10), JobEventKind.Start, "birch"));
        batch.JobRuns.Add(new JobEvent("bay1", At(2), JobEventKind.End, "birch"));
        batch.JobRuns.Add(new JobEvent("bay1", At(3), JobEventKind.Start, null, Inferred: true));
        batch.JobRuns.Add(new JobEvent("other", At(1), JobEventKind.Start, "birch"));
        batch.ServiceEvents.Add(new ServiceEvent("bay1", At(1), "tube", "replaced", "T-1", null, ServiceEvent.NoDetails));
        batch.AlarmChanges.Add(new AlarmChange(
            At(1), "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, 189, "kPa", "birch", "low", [], ["hose"]));
        batch.Samples.Add(("bay1", new Sample(Channel.Power, At(-1), 1)));
        batch.Samples.Add(("bay1", new Sample(Channel.Power, At(1), 66)));
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, At(1), 1.0 / 3)));
        batch.Samples.Add(("bay1", new Sample(Channel.TubeCurrent, new Instant(Start + 1), 18.2)));
        batch.Samples.Add(("bay1", new Sample(Channel.AirPressure, At(3), 1e-300)));
        batch.Samples.Add(("bay1", new Sample(Channel.AirPressure, At(4), 1)));
        batch.Samples.Add(("other", new Sample(Channel.AirPressure, At(1), 1)));
        await store.AppendAsync(batch, CancellationToken.None);
        return store;
    }

    [Fact]
    public async Task Everything_of_the_machine_and_time_stands_in_order_and_samples_of_one_instant_share_a_line()
    {
        await using var store = await StoreAsync();
        var bytes = new MemoryStream();

        var extent = await RecordingWriter.WriteAsync(store, "bay1", At(0), At(4), bytes, CancellationToken.None);

        Assert.Equal(
            """
            job_record,job=birch power=66,air_pressure=210,mode="vector" 1773037800000000000
            job_run,machine=bay1 event="start",job="birch" 1773041390000000000
            telemetry,machine=bay1 tube_current=18.2 1773041400000000001
            service,machine=bay1 part="tube",action="replaced",serial="T-1" 1773041401000000000
            telemetry,machine=bay1 tube_current=0.3333333333333333,power=66 1773041401000000000
            alarm,machine=bay1,condition=air-pressure-low state="unacknowledged",priority="high",value=151,limit=189,unit="kPa",job="birch",message="low",checks="[\"hose\"]" 1773041401000000000
            job_run,machine=bay1 event="end",job="birch" 1773041402000000000
            job_run,machine=bay1 event="start",inferred=true 1773041403000000000
            telemetry,machine=bay1 air_pressure=1E-300 1773041403000000000

            """,
            Encoding.UTF8.GetString(bytes.ToArray()));
        Assert.Equal(new RecordingExtent(4, 9, 1, 3, 1, 1, new Instant(Start + 1), At(3)), extent);
    }

    [Theory]
    [InlineData("a.lp")]
    [InlineData("a.lp.gz")]
    public async Task The_verb_writes_a_file_that_reads_back_to_the_same_bits(string name)
    {
        await (await StoreAsync()).DisposeAsync();
        var path = Path.Combine(_folder, name);
        var (output, error) = (new StringWriter(), new StringWriter());

        var exit = await Program.RunAsync(
            ["record", "bay1", "--out", path, "--store", Path.Combine(_folder, "store.db"), "--from", "2026-03-09T07:30:00Z"], output, error);

        Assert.True(exit == 0, error.ToString());
        using var reader = RecordingReader.Open(path, new ChannelTable());
        List<(string, double, Instant)> samples = [];
        while (reader.Read() is { } e)
        {
            foreach (var value in e.Values)
                samples.Add((value.Channel.Name, value.Value, e.At));
        }

        Assert.Equal(
            [("tube_current", 18.2, new Instant(Start + 1)), ("tube_current", 1.0 / 3, At(1)), ("power", 66, At(1)), ("air_pressure", 1e-300, At(3)), ("air_pressure", 1, At(4))],
            samples);
        Assert.Equal((0, 1, 3, 1, 1), (reader.Counts.Unread, reader.Counts.JobRecords, reader.Counts.JobRuns, reader.Counts.ServiceEvents, reader.Counts.AlarmLines));
        Assert.Equal([Path.GetFileName(path)], Directory.GetFiles(_folder, "a.*").Select(Path.GetFileName));
    }

    [Fact]
    public async Task A_machine_or_a_store_that_is_not_there_is_exit_status_3()
    {
        await (await StoreAsync()).DisposeAsync();
        var path = Path.Combine(_folder, "a.lp");
        var error = new StringWriter { NewLine = "\n" };

        Assert.Equal(3, await Program.RunAsync(["record", "bay9", "--out", path, "--store", Path.Combine(_folder, "store.db")], TextWriter.Null, error));
        Assert.Equal(3, await Program.RunAsync(["record", "bay1", "--out", path, "--store", Path.Combine(_folder, "none.db")], TextWriter.Null, error));
        Assert.Equal(3, await Program.RunAsync(["record", "bay1", "--out", Path.Combine(_folder, "none", "a.lp"), "--store", Path.Combine(_folder, "store.db")], TextWriter.Null, error));
        Assert.StartsWith($"laserwatch: the store {Path.Combine(_folder, "store.db")} knows no machine 'bay9'; it knows bay1, other.\n", error.ToString(), StringComparison.Ordinal);
        Assert.False(File.Exists(path));
    }

    [Fact]
    public async Task Times_and_stores_that_contradict_each_other_are_bad_usage()
    {
        var error = new StringWriter { NewLine = "\n" };

        Assert.Equal(2, await Program.RunAsync(["record", "a", "--out", "x.lp", "--from", "2026-03-10", "--to", "2026-03-09"], TextWriter.Null, error));
        Assert.Equal(2, await Program.RunAsync(["record", "a", "--out", "x.lp", "--from", "yesterday"], TextWriter.Null, error));
        Assert.Equal(2, await Program.RunAsync(["record", "a", "--out", "x.lp", "--config", "c", "--store", "s"], TextWriter.Null, error));
        Assert.Equal(
            """
            laserwatch: --from must be before --to.
            laserwatch: 'yesterday' is not a time: write a date, 2026-03-09, or a time with its zone, 2026-03-09T08:00:00Z. See 'laserwatch record --help'.
            laserwatch: Give --config or --store, not both. See 'laserwatch record --help'.

            """,
            error.ToString());
    }
}
