using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public sealed class RecordingTimelineTests
{
    private const long Second = 1_000_000_000;
    private const long Day = 86_400 * Second;

    [Fact]
    public void It_spans_what_is_played_and_knows_what_happens_in_it()
    {
        var timeline = Of($"""
            job_record,job=a power=66 {-400 * Day}
            telemetry,machine=bay1 power=1 {10 * Second}
            job_run,machine=bay1 event="start",job="a" {20 * Second}
            alarm,machine=bay1,condition=air-pressure-low state="unacknowledged",priority="high" {30 * Second}
            alarm,machine=bay1,condition=air-pressure-low state="normal",priority="high" {40 * Second}
            job_run,machine=bay1 event="end",inferred=true {50 * Second}
            service,machine=bay1 part="annotation",action="faulty",id="0000000a",to="1970-01-01T00:01:00Z",cause="hose-kink" {55 * Second}
            service,machine=bay1 part="lens",action="cleaned" {60 * Second}
            """);

        // An annotation would tell a trainee what is to be found out.

        Assert.Equal((At(10), At(60), TimeSpan.FromSeconds(50)), (timeline.First, timeline.Last, timeline.Length));
        Assert.Equal(
            [
                new(At(20), "run start a (bay1)"), new(At(30), "alarm air-pressure-low, high (bay1)"), new(At(50), "run end (bay1)"),
                new(At(60), "service: lens cleaned (bay1)"),
            ],
            timeline.Marks);
        Assert.Equal((timeline.Marks[1], timeline.Marks[3], null), (timeline.After(At(20)), timeline.After(At(50)), timeline.After(At(60))));
    }

    [Fact]
    public void What_is_leapt_over_takes_no_time_and_lines_out_of_order_none_twice()
    {
        var timeline = Of($"""
            telemetry,machine=bay1 power=1 {0}
            telemetry,machine=bay1 power=1 {100 * Second}
            telemetry,machine=bay1 power=1 {90 * Second}
            telemetry,machine=bay1 power=1 {110 * Second}
            telemetry,machine=bay1 power=1 {31 * Day}
            telemetry,machine=bay1 power=1 {(31 * Day) + Second}
            """);

        Assert.Equal(TimeSpan.FromSeconds(111), timeline.Length);
        Assert.Equal(new Instant((31 * Day) + Second), timeline.Last);
    }

    [Fact]
    public void Of_a_recording_that_breaks_off_it_knows_what_stands_before()
    {
        using var packed = new MemoryStream();
        using (var gzip = new System.IO.Compression.GZipStream(packed, System.IO.Compression.CompressionLevel.NoCompression, leaveOpen: true))
            gzip.Write(Encoding.UTF8.GetBytes(string.Concat(Enumerable.Range(0, 5000).Select(i => $"telemetry,machine=bay1 power=1 {i * Second}\n"))));
        using var reader = new RecordingReader(new MemoryStream(packed.ToArray()[..(int)(packed.Length / 2)]), new ChannelTable());

        var timeline = RecordingTimeline.Of(reader, CancellationToken.None);

        Assert.Equal(At(0), timeline.First);
        Assert.True(timeline.Last > At(100) && timeline.Last < At(4999), $"{timeline.Last}");
    }

    [Fact]
    public void An_empty_recording_has_no_beginning() => Assert.Null(Of("job_record,job=a power=1 1").First);

    private static Instant At(long seconds) => new(seconds * Second);

    private static RecordingTimeline Of(string lines)
    {
        using var reader = new RecordingReader(new MemoryStream(Encoding.UTF8.GetBytes(lines)), new ChannelTable());
        return RecordingTimeline.Of(reader, CancellationToken.None);
    }
}
