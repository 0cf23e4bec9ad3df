using System.Globalization;
using System.IO.Compression;
using System.Text;
using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public class RecordingReaderTests
{
    private const string OneOfEach = """
        telemetry,machine=bay1 tube_current=18.2,power=66,lasing=1,air_pressure=209.4 1773041400000000000
        job_record,job=birch-6-cut material="birch plywood 6 mm",power=66,speed=11,air_pressure=210,tube_current=18.2,mode="vector" 1773041400000000001
        job_run,machine=bay1 event="start",job="birch-6-cut" 1773041400000000002
        service,machine=bay1 part="tube",action="replaced",serial="T-000001",hours=12.5,ok=true,n=3i 1773041400000000003
        alarm,machine=bay1,condition=air-pressure-low state="unacknowledged",priority="high",value=151.0,limit=189.0 1773041400000000004
        """;

    private static (List<string> Events, RecordingCounts Counts) Read(byte[] bytes)
    {
        using var reader = new RecordingReader(new MemoryStream(bytes), new ChannelTable());
        List<string> events = [];
        while (reader.Read() is { } e)
            events.Add(Text(e));
        return (events, reader.Counts);
    }

    private static (List<string> Events, RecordingCounts Counts) Read(string text) => Read(Encoding.UTF8.GetBytes(text));

    private static string Text(RecordingEvent e)
    {
        List<string> values = [];
        foreach (var value in e.Values)
            values.Add(string.Create(CultureInfo.InvariantCulture, $"{value.Channel.Name}={value.Value}"));
        return string.Create(CultureInfo.InvariantCulture, $"{e.Kind} {e.Machine} {string.Join(',', values)} {e.At.UnixNanoseconds}");
    }

    private static byte[] Zipped(string text)
    {
        var zipped = new MemoryStream();
        using (var gzip = new GZipStream(zipped, CompressionMode.Compress, leaveOpen: true))
            gzip.Write(Encoding.UTF8.GetBytes(text));
        return zipped.ToArray();
    }

    [Fact]
    public void Each_kind_of_line_is_read_as_what_it_is()
    {
        using var reader = new RecordingReader(new MemoryStream(Encoding.UTF8.GetBytes(OneOfEach)), new ChannelTable());

        Assert.Equal("Telemetry bay1 tube_current=18.2,power=66,lasing=1,air_pressure=209.4 1773041400000000000", Text(reader.Read()!));
        Assert.Equal(
            new JobRecord("birch-6-cut", new Instant(1773041400000000001), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2)),
            reader.Read()!.JobRecord);
        Assert.Equal(new JobEvent("bay1", new Instant(1773041400000000002), JobEventKind.Start, "birch-6-cut"), reader.Read()!.JobRun);
        var service = reader.Read()!.Service!;
        Assert.Equal(("bay1", "tube", "replaced", "T-000001", null), (service.Machine, service.Part, service.Action, service.Serial, service.Note));
        Assert.Equal(new Dictionary<string, string> { ["hours"] = "12.5", ["ok"] = "true", ["n"] = "3" }, service.Details);
        var alarm = reader.Read()!.Alarm!;
        Assert.Equal(
            ("bay1", "air-pressure-low", AlarmState.Unacknowledged, AlarmPriority.High, 151.0, 189.0),
            (alarm.Machine, alarm.Condition, alarm.State, alarm.Priority, alarm.Value, alarm.Limit));
        Assert.Null(reader.Read());
        Assert.Equal(
            (5, 1, 4, 1, 1, 1, 1, 0),
            (reader.Counts.Lines, reader.Counts.TelemetryLines, reader.Counts.Samples, reader.Counts.JobRecords, reader.Counts.JobRuns, reader.Counts.ServiceEvents, reader.Counts.AlarmLines, reader.Counts.Unread));
    }

    [Fact]
    public void A_line_that_cannot_be_read_is_reported_with_its_number_and_ends_nothing()
    {
        var (events, counts) = Read(
            "# a comment\n\ntelemetry,machine=a power=1 1\ntelemetry,machine=a power=2\r\ntelemetry,machine=A power=2 1\ntelemetry power=2 1\n" +
            "job_run,machine=a event=\"begin\" 1\njob_record,job=x power=1,air_pressure_tolerance=10 1\njob_record power=1 1\ntelemetry,machine=a power=3 2");

        Assert.Equal(["Telemetry a power=1 1", "Telemetry a power=3 2"], events);
        Assert.Equal(
            [
                "line 4 has no time: every line of a recording ends in nanoseconds since 1970, such as 1773041400000000000",
                "line 5 names a machine 'A'; a name is 1 to 32 of a-z, 0-9 and '-'",
                "line 6 has no tag 'machine'",
                "line 7 has no event; it is \"start\" or \"end\"",
                "line 8 has an air_pressure_tolerance that is no fraction between 0 and 1; write 0.1 for ten percent",
                "line 9 has no tag 'job'",
            ],
            counts.FirstUnread.Select(unread => unread.ToString()));
        Assert.Equal((10, 6), (counts.Lines, counts.Unread));
    }

    [Fact]
    public void Fields_that_are_no_numbers_are_counted_while_the_others_of_the_line_count()
    {
        var (events, counts) = Read(
            "telemetry,machine=a power=\"66\",tube_current=18.2,air_pressure=abc,coolant_in=NaN,coolant_out=true,lasing=true,bad/name=1 1\n" +
            "telemetry,machine=a power=\"66\" 2\nweather,place=b sun=1 3\n");

        Assert.Equal(["Telemetry a tube_current=18.2,lasing=1 1"], events);
        Assert.Equal((2, 5, 1, 1, 0), (counts.Samples, counts.NotNumbers, counts.UnknownChannels, counts.UnknownMeasurements, counts.Unread));
    }

    [Fact]
    public void A_line_beyond_the_cap_is_counted_and_passed_over()
    {
        var longest = "telemetry,machine=a note=\"" + new string('x', RecordingLines.LongestLine) + "\",power=1 1\n";
        var (events, counts) = Read("telemetry,machine=a power=1 1\n" + longest + longest + "telemetry,machine=a power=2 2\n" + longest.TrimEnd());

        Assert.Equal(["Telemetry a power=1 1", "Telemetry a power=2 2"], events);
        Assert.Equal(["line 2 is longer than 1 MiB", "line 3 is longer than 1 MiB", "line 5 is longer than 1 MiB"], counts.FirstUnread.Select(u => u.ToString()));
    }

    [Fact]
    public void A_line_of_exactly_the_cap_is_read()
    {
        const string Rest = "telemetry,machine=a power=1,note=\"\" 1";
        var line = Rest.Replace("\"\"", "\"" + new string('x', RecordingLines.LongestLine - Rest.Length) + "\"");

        Assert.Equal(RecordingLines.LongestLine, line.Length);
        Assert.Equal(["Telemetry a power=1 1"], Read(line).Events);
        Assert.Equal(["Telemetry a power=1 1"], Read(line + "\n").Events);
        Assert.Equal([], Read(line.Replace("xx", "xxx") + "\n").Events);
    }

    [Fact]
    public void Only_the_first_twenty_unread_lines_are_kept_and_all_are_counted()
    {
        var (_, counts) = Read(string.Concat(Enumerable.Repeat("nonsense\n", 1000)));

        Assert.Equal((1000, 20), (counts.Unread, counts.FirstUnread.Count));
    }

    [Fact]
    public void Invalid_utf8_is_counted_wherever_it_stands()
    {
        var (events, counts) = Read([
            .. "telemetry,machine=a power=1 1\n"u8, .. "telemetry,machine=a po"u8, 0xff, .. "wer=1 2\n"u8, .. "telemetry,machine="u8, 0xc3,
            .. " power=1 3\n"u8, .. "telemetry,machine=a power=1 4\n"u8]);

        Assert.Equal(["Telemetry a power=1 1", "Telemetry a power=1 4"], events);
        Assert.Equal(["line 2 is not valid UTF-8", "line 3 is not valid UTF-8"], counts.FirstUnread.Select(u => u.ToString()));
    }

    [Fact]
    public void A_gzip_recording_is_known_by_its_content()
    {
        Assert.Equal(Read(OneOfEach).Events, Read(Zipped(OneOfEach)).Events);
        Assert.Empty(Read(Zipped("")).Events);
    }

    [Fact]
    public void Gzip_files_put_behind_one_another_are_one_recording()
    {
        var (first, second) = (Zipped("telemetry,machine=a power=1 1\n"), Zipped("telemetry,machine=a power=2 2\n"));

        Assert.Equal(["Telemetry a power=1 1", "Telemetry a power=2 2"], Read([.. first, .. second]).Events);
    }

    [Fact]
    public void A_gzip_recording_that_breaks_off_anywhere_gives_what_came_before_and_then_throws()
    {
        var lines = Enumerable.Range(0, 3000).Select(i => $"telemetry,machine=a power={i * 7919 % 997} {i * 10_000_000_000L}\n");
        var whole = Zipped(string.Concat(lines));
        var events = Read(whole).Events;
        for (var length = 2; length < whole.Length; length += length < whole.Length - 20 ? 61 : 1)
        {
            using var reader = new RecordingReader(new MemoryStream(whole[..length]), new ChannelTable());
            List<string> before = [];
            Assert.Throws<InvalidDataException>(() =>
            {
                while (reader.Read() is { } e)
                    before.Add(Text(e));
            });

            Assert.Equal(events.Take(before.Count), before);
        }
    }

    [Theory]
    [InlineData("")]
    [InlineData("\n")]
    [InlineData("\uFEFF")]
    [InlineData("\r\n\r\n# nothing\r\n")]
    public void An_empty_recording_has_no_events(string text)
    {
        var (events, counts) = Read(text);

        Assert.Empty(events);
        Assert.Equal(0, counts.Unread);
    }

    [Fact]
    public void Windows_line_ends_and_a_byte_order_mark_are_no_matter() =>
        Assert.Equal(Read(OneOfEach).Events, Read("\uFEFF" + OneOfEach.Replace("\n", "\r\n")).Events);

    [Fact]
    public void Lines_up_to_five_seconds_out_of_order_are_put_right()
    {
        var (events, counts) = Read(
            "telemetry,machine=a power=1 10000000000\ntelemetry,machine=a power=2 8000000000\ntelemetry,machine=a power=3 9000000000\n" +
            "telemetry,machine=a power=4 8000000000\ntelemetry,machine=a power=5 20000000000\ntelemetry,machine=a power=6 10000000000\n" +
            "telemetry,machine=a power=7 21000000000\n");

        Assert.Equal(
            [
                "Telemetry a power=2 8000000000", "Telemetry a power=4 8000000000", "Telemetry a power=3 9000000000",
                "Telemetry a power=1 10000000000", "Telemetry a power=6 10000000000", "Telemetry a power=5 20000000000",
                "Telemetry a power=7 21000000000",
            ],
            events);
        Assert.Equal(4, counts.OutOfOrder);
    }

    [Fact]
    public void Any_disorder_within_the_window_gives_the_sorted_recording()
    {
        // Each line's place in the file is its time put off by up to the window: so it never comes later than that.
        Gen.Select(Gen.Long[0, 60_000_000_000], Gen.Long[0, 4_999_999_999]).Array[0, 200].Sample(lines =>
        {
            var inFile = lines.OrderBy(l => l.Item1 + l.Item2).ToArray();
            var text = string.Concat(inFile.Select((l, i) => $"telemetry,machine=a power={i} {l.Item1}\n"));
            var sorted = inFile.Select((l, i) => (Place: i, Time: l.Item1)).OrderBy(l => l.Time).ThenBy(l => l.Place);

            Assert.Equal(sorted.Select(l => $"Telemetry a power={l.Place} {l.Time}"), Read(text).Events);
        });
    }

    [Fact]
    public void One_absurd_time_spoils_no_order_but_its_own()
    {
        var (events, _) = Read(
            "telemetry,machine=a power=1 1000000000\ntelemetry,machine=a power=2 9223372036854775807\ntelemetry,machine=a power=3 2000000000\n" +
            "telemetry,machine=a power=4 -9223372036854775808\ntelemetry,machine=a power=5 3000000000\n");

        Assert.Equal(
            ["power=1 1000000000", "power=3 2000000000", "power=4 -9223372036854775808", "power=5 3000000000", "power=2 9223372036854775807"],
            events.Select(e => e["Telemetry a ".Length..]));
    }

    [Fact]
    public void The_swift_reading_agrees_with_the_thorough_one()
    {
        var value = Gen.OneOf(
            Gen.Double.Select(d => d.ToString("R", CultureInfo.InvariantCulture)),
            Gen.Int[-9999, 9999].Select(n => (n / 100m).ToString(CultureInfo.InvariantCulture)),
            Gen.OneOf("1i", "t", "\"text, a=b\"", "1e3", "-", "1.2.3", "", "007", "1.", "+5"));
        var key = Gen.OneOf("power", "tube_current", "air_pressure", "lasing", "x.y", "bad/name", "sp\\ ace", "");
        var fields = Gen.Select(key, value, (k, v) => $"{k}={v}").Array[1, 4].Select(f => string.Join(',', f));
        var line = Gen.Select(
            Gen.OneOf("telemetry,machine=a", "telemetry,machine=b,host=h", "telemetry,machine=A", "telemetry", "telemetry,machine=a\\ b"),
            Gen.OneOf(" ", "  "), fields, Gen.OneOf(" 5", " 5 ", "", " -5", " 0x5", "  5", " 9223372036854775808"), (a, b, c, d) => a + b + c + d);
        line.Array[1, 30].Sample(lines =>
        {
            // Read alone, each line meets a scanner that has learned nothing, so the thorough reading has it.
            var alone = lines.Select(Read).ToArray();
            var together = Read(string.Join('\n', lines.Concat(lines)));

            Assert.Equal(Sorted(alone.Concat(alone).SelectMany(r => r.Events)), Sorted(together.Events));
            Assert.Equal(2 * alone.Sum(r => r.Counts.Unread), together.Counts.Unread);
            Assert.Equal(2 * alone.Sum(r => r.Counts.NotNumbers), together.Counts.NotNumbers);
            Assert.Equal(2 * alone.Sum(r => r.Counts.Samples), together.Counts.Samples);
        });

        static IEnumerable<string> Sorted(IEnumerable<string> events) => events.Order(StringComparer.Ordinal);
    }

    [Fact]
    public void Reading_a_steady_recording_allocates_nothing()
    {
        var text = new StringBuilder();
        for (var i = 0; i < 200_000; i++)
            text.Append(CultureInfo.InvariantCulture, $"telemetry,machine=bay{i % 3} tube_current=18.{i % 10},power=66,air_pressure=2{i % 100}.25 {(i * 20_000_000L) + (i % 7 * 100_000_000L)}\n");
        using var reader = new RecordingReader(new MemoryStream(Encoding.UTF8.GetBytes(text.ToString())), new ChannelTable());
        for (var i = 0; i < 50_000; i++)
            reader.Read();

        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 100_000; i++)
            reader.Read();

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
        Assert.InRange(reader.Counts.Samples, 450_000, 460_000);
    }
}
