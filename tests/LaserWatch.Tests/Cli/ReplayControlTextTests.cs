using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

public sealed class ReplayControlTextTests
{
    public static TheoryData<string, ReplayControl?> Lines => new()
    {
        { "hold", new ReplayControl.Hold() },
        { "  go ", new ReplayControl.Go() },
        { "next", new ReplayControl.Next() },
        { "end", new ReplayControl.End() },
        { "", null },
        { "to 12:30:00", new ReplayControl.MoveToTimeOfDay(new(12, 30, 0)) },
        { "to 12:30", new ReplayControl.MoveToTimeOfDay(new(12, 30, 0)) },
        { "to 12:30:00.25", new ReplayControl.MoveToTimeOfDay(new(0, 12, 30, 0, 250)) },
        { "to 2026-03-09T07:30:00Z", new ReplayControl.MoveTo(new(1_773_041_400_000_000_000)) },
        { "by +10m", new ReplayControl.MoveBy(TimeSpan.FromMinutes(10)) },
        { "by -1.5h", new ReplayControl.MoveBy(TimeSpan.FromMinutes(-90)) },
        { "pace 1000", new ReplayControl.Pace(1000) },
        { "pace 0.5x", new ReplayControl.Pace(0.5) },
    };

    [Theory]
    [MemberData(nameof(Lines))]
    public void A_line_is_a_control(string line, ReplayControl? control) => Assert.Equal(control, ReplayControlText.Parse(line));

    [Theory]
    [InlineData("pace 1001", "'1001' is no pace: write a number from 0.1 to 1000")]
    [InlineData("pace -1", "'-1' is no pace: write a number from 0.1 to 1000")]
    [InlineData("to 25:00", "'25:00' is no place in time: write 12:30:00 (UTC) or 2026-03-09T12:30:00Z")]
    [InlineData("to +10m", "'+10m' is no place in time: write 12:30:00 (UTC) or 2026-03-09T12:30:00Z")]
    [InlineData("by 10m", "'10m' is no stretch of time: write +10m (forward) or -10m (back)")]
    [InlineData("to", "'to' is no control; there are: hold, go, next, to 12:30:00, to 2026-03-09T12:30:00Z, by +10m, by -10m, pace 10, end")]
    [InlineData("pause", "'pause' is no control; there are: hold, go, next, to 12:30:00, to 2026-03-09T12:30:00Z, by +10m, by -10m, pace 10, end")]
    public void What_cannot_be_done_is_answered_with_what_can(string line, string why) =>
        Assert.Equal(new ReplayControl.NotUnderstood(why), ReplayControlText.Parse(line));
}
