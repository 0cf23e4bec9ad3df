using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

public class InstantTextTests
{
    [Theory]
    [InlineData("2026-03-09", 1773014400)]
    [InlineData("2026-03-09T00:00:00Z", 1773014400)]
    [InlineData("2026-03-09T09:30:00+01:30", 1773043200)]
    [InlineData("2024-02-29", 1709164800)]
    public void A_date_is_its_midnight_in_UTC_and_a_time_has_its_offset(string text, long unixSeconds)
    {
        Assert.True(InstantText.TryParse(text, out var instant));
        Assert.Equal(Instant.FromUnixSeconds(unixSeconds), instant);
        Assert.Matches(InstantText.Pattern, text);
    }

    [Theory]
    [InlineData("2026-03-09T08:00:00")]
    [InlineData("2026-3-9")]
    [InlineData("09.03.2026")]
    [InlineData("2026-03-09T08:00Z")]
    [InlineData("")]
    public void What_editors_refuse_is_refused(string text)
    {
        Assert.False(InstantText.TryParse(text, out _));
        Assert.DoesNotMatch(InstantText.Pattern, text);
    }

    [Theory]
    [InlineData("2026-02-30")]
    [InlineData("2026-13-01")]
    [InlineData("2026-03-09T25:00:00Z")]
    public void So_is_what_is_not_in_the_calendar(string text) => Assert.False(InstantText.TryParse(text, out _));
}
