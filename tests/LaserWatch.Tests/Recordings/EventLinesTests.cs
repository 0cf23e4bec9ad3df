using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public class EventLinesTests
{
    private static readonly Instant At = new(1773041400000000001);

    private static (string Text, ParsedLine Line) Write(Action<LineFormatter> write)
    {
        var lines = new LineFormatter();
        write(lines);
        var line = new ParsedLine();
        Assert.True(LineProtocol.TryParse(lines.Written[..^1], line, out var mistake), mistake);
        return (System.Text.Encoding.UTF8.GetString(lines.Written), line);
    }

    [Fact]
    public void A_job_record_comes_back_whole()
    {
        var record = new JobRecord(
            "birch 6, cut=1", At, "birch \"ply\"", new PowerPercent(66.5), 11, new Kilopascals(210), new Milliamps(18.2), CutMode.Raster, 0.15);
        var (text, line) = Write(lines => EventLines.Write(lines, record));

        Assert.Equal(
            """job_record,job=birch\ 6\,\ cut\=1 material="birch \"ply\"",power=66.5,speed=11,air_pressure=210,tube_current=18.2,mode="raster",air_pressure_tolerance=0.15 1773041400000000001""" + "\n",
            text);
        Assert.True(EventLines.TryRead(line, out JobRecord? back, out _));
        Assert.Equal(record, back);
    }

    [Fact]
    public void A_job_record_of_which_nothing_is_known_comes_back_whole()
    {
        var record = new JobRecord("x", At, null, null, null, null, null);

        Assert.True(EventLines.TryRead(Write(lines => EventLines.Write(lines, record)).Line, out JobRecord? back, out _));
        Assert.Equal(record, back);
    }

    [Theory]
    [InlineData(JobEventKind.Start, "birch", false)]
    [InlineData(JobEventKind.End, null, true)]
    public void A_job_run_comes_back_whole(JobEventKind kind, string? job, bool inferred)
    {
        var run = new JobEvent("bay1", At, kind, job, inferred);

        Assert.True(EventLines.TryRead(Write(lines => EventLines.Write(lines, run)).Line, out JobEvent? back, out _));
        Assert.Equal(run, back);
    }

    [Fact]
    public void A_service_event_comes_back_whole_with_its_details()
    {
        var service = new ServiceEvent(
            "bay1", At, "test-cut", "done", "T-1", "clean, all through", new Dictionary<string, string> { ["power"] = "60", ["out come"] = "a=b" });

        Assert.True(EventLines.TryRead(Write(lines => EventLines.Write(lines, service)).Line, out ServiceEvent? back, out _));
        Assert.Equal(service.Details, back!.Details);
        Assert.Equal(service with { Details = ServiceEvent.NoDetails }, back with { Details = ServiceEvent.NoDetails });
    }

    [Fact]
    public void A_line_break_in_a_note_becomes_a_space() => Assert.Equal(
        "service,machine=a part=\"tube\",action=\"replaced\",note=\"first second third\" 1773041400000000001\n",
        Write(lines => EventLines.Write(lines, new ServiceEvent("a", At, "tube", "replaced", null, "first\nsecond\r\nthird", ServiceEvent.NoDetails))).Text);

    [Fact]
    public void An_alarm_comes_back_whole_with_evidence_and_checks()
    {
        var alarm = new AlarmChange(
            At, "bay1", Conditions.AirPressureLow, AlarmState.ReturnedUnacknowledged, AlarmPriority.Urgent, 151.5, 189, "kPa", "birch", "low, \"very\"",
            [new("recorded", 210), new("since", "2 s")], ["hose", "compressor"], "x");

        Assert.True(EventLines.TryRead(Write(lines => EventLines.Write(lines, alarm)).Line, out AlarmChange? back, out _));
        Assert.Equal(alarm.Evidence, back!.Evidence);
        Assert.Equal(alarm.Checks, back.Checks);
        Assert.Equal(alarm with { Evidence = [], Checks = [] }, back with { Evidence = [], Checks = [] });
    }
}
