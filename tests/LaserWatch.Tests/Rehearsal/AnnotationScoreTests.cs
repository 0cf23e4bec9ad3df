using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Rehearsal;

public class AnnotationScoreTests
{
    private static readonly TimeSpan Before = TimeSpan.FromSeconds(30);

    private static Annotation Span(double from, double to, AnnotationKind kind, string machine = "bay1") => new(
        machine, $"{from}", kind, Instant.FromUnixSeconds(from), Instant.FromUnixSeconds(to), null, null, null, null);

    private static RaisedAlarm Alarm(double raised, double ended, string condition = Conditions.AirPressureLow) =>
        new("bay1", condition, Instant.FromUnixSeconds(raised), Instant.FromUnixSeconds(ended), Instant.FromUnixSeconds(ended), AlarmPriority.High);

    [Fact]
    public void Found_missed_false_ignored_and_all_others_are_told_apart()
    {
        var score = AnnotationScore.Of(
            [Span(100, 200, AnnotationKind.Faulty), Span(300, 400, AnnotationKind.Faulty), Span(500, 600, AnnotationKind.Good), Span(700, 800, AnnotationKind.Ignore)],
            [Alarm(150, 160), Alarm(550, 560), Alarm(750, 760), Alarm(900, 910)], Before);

        Assert.Equal((1, 1, 1, 1, 1), (score.Found, score.Missed, score.FalseAlarms.Count, score.Ignored, score.Elsewhere));
        Assert.Equal(TimeSpan.FromSeconds(50), score.Faults[0].After);
        Assert.Equal(
            "1 of 2 annotated faults found (within 50 s); 1 false alarm in good time; 1 alarm in time to be ignored; 1 alarm where nobody said anything",
            AnnotationWords.Of(score));
    }

    [Theory]
    [InlineData(80, 120, true)]
    [InlineData(80, 95, false)]
    [InlineData(60, 120, false)]
    [InlineData(200, 220, false)]
    public void An_alarm_shortly_before_that_stands_at_the_begin_tells_of_the_fault(double raised, double ended, bool found) =>
        Assert.Equal(found, AnnotationScore.Of([Span(100, 200, AnnotationKind.Faulty)], [Alarm(raised, ended)], Before).Found == 1);

    [Fact]
    public void Another_machines_alarm_finds_nothing_and_a_due_service_is_neither_found_nor_false()
    {
        var score = AnnotationScore.Of(
            [Span(100, 200, AnnotationKind.Faulty, "bay2"), Span(300, 400, AnnotationKind.Faulty), Span(500, 600, AnnotationKind.Good)],
            [Alarm(150, 160), Alarm(350, 360, Conditions.ServiceDue), Alarm(550, 560, Conditions.WaterTrapDue)], Before);

        Assert.Equal((0, 0, 1), (score.Found, score.FalseAlarms.Count, score.Elsewhere));
    }
}
