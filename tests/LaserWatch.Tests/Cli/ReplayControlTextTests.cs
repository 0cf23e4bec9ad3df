using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

public sealed class ReplayControlTextTests
{
    public static TheoryData<string, ReplayControl?> Lines => new()
    {
        { "pause", new ReplayControl.Pause() },
        { "  resume ", new ReplayControl.Resume() },
        { "next", new ReplayControl.Next() },
        { "stop", new ReplayControl.Stop() },
        { "", null },
        { "seek 12:30:00", new ReplayControl.SeekToTimeOfDay(new(12, 30, 0)) },
        { "seek 12:30", new ReplayControl.SeekToTimeOfDay(new(12, 30, 0)) },
        { "seek 12:30:00.25", new ReplayControl.SeekToTimeOfDay(new(0, 12, 30, 0, 250)) },
        { "seek 2026-03-09T07:30:00Z", new ReplayControl.SeekTo(new(1_773_041_400_000_000_000)) },
        { "seek +10m", new ReplayControl.SeekBy(TimeSpan.FromMinutes(10)) },
        { "seek -1.5h", new ReplayControl.SeekBy(TimeSpan.FromMinutes(-90)) },
        { "speed 1000", new ReplayControl.Speed(1000) },
        { "speed 0.5x", new ReplayControl.Speed(0.5) },
    };

    [Theory]
    [MemberData(nameof(Lines))]
    public void A_line_is_a_control(string line, ReplayControl? control) => Assert.Equal(control, ReplayControlText.Parse(line));

    [Theory]
    [InlineData("speed 1001", "'1001' is no speed: write a number from 0.1 to 1000")]
    [InlineData("speed -1", "'-1' is no speed: write a number from 0.1 to 1000")]
    [InlineData("seek 25:00", "'25:00' is no place to seek: write 12:30:00 (UTC), 2026-03-09T12:30:00Z, +10m or -10m")]
    [InlineData("seek", "'seek' is no control; there are: pause, resume, next, seek 12:30:00, seek 2026-03-09T12:30:00Z, seek +10m, seek -10m, speed 10, stop")]
    public void What_cannot_be_done_is_answered_with_what_can(string line, string why) =>
        Assert.Equal(new ReplayControl.NotUnderstood(why), ReplayControlText.Parse(line));
}
