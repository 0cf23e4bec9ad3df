using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public class Rfc3339Tests
{
    [Theory]
    [InlineData(1773041400000000000, "2026-03-09T07:30:00Z")]
    [InlineData(1773041400250000000, "2026-03-09T07:30:00.25Z")]
    [InlineData(1773041400000000001, "2026-03-09T07:30:00.000000001Z")]
    [InlineData(0, "1970-01-01T00:00:00Z")]
    [InlineData(-1, "1969-12-31T23:59:59.999999999Z")]
    [InlineData(long.MaxValue, "2262-04-11T23:47:16.854775807Z")]
    [InlineData(long.MinValue, "1677-09-21T00:12:43.145224192Z")]
    public void A_time_has_as_many_digits_as_it_takes(long nanoseconds, string text)
    {
        Assert.Equal(text, Rfc3339.Format(new Instant(nanoseconds)));
        Assert.True(Rfc3339.TryParse(text, out var back));
        Assert.Equal(new Instant(nanoseconds), back);
    }

    [Theory]
    [InlineData("2026-03-09T08:30:00+01:00", 1773041400000000000)]
    [InlineData("2026-03-09T02:00:00.5-05:30", 1773041400500000000)]
    [InlineData("2026-03-09t07:30:00z", 1773041400000000000)]
    [InlineData("2026-03-09 07:30:00Z", 1773041400000000000)]
    [InlineData("2026-03-09T07:30:00.1234567899Z", 1773041400123456789)]
    [InlineData("2016-12-31T23:59:60Z", 1483228800000000000)]
    public void Offsets_small_letters_and_leap_seconds_are_read(string text, long nanoseconds)
    {
        Assert.True(Rfc3339.TryParse(text, out var at));
        Assert.Equal(new Instant(nanoseconds), at);
    }

    [Theory]
    [InlineData("")]
    [InlineData("2026-03-09")]
    [InlineData("2026-03-09T07:30:00")]
    [InlineData("2026-02-29T07:30:00Z")]
    [InlineData("2026-13-09T07:30:00Z")]
    [InlineData("2026-03-09T24:30:00Z")]
    [InlineData("2026-03-09T07:30:00.Z")]
    [InlineData("2026-03-09T07:30:00+0100")]
    [InlineData("2026-03-09T07:30:00Zx")]
    [InlineData("0000-03-09T07:30:00Z")]
    [InlineData("1600-03-09T07:30:00Z")]
    [InlineData("9999-03-09T07:30:00Z")]
    [InlineData("+026-03-09T07:30:00Z")]
    public void What_is_no_time_or_beyond_ours_is_refused(string text) => Assert.False(Rfc3339.TryParse(text, out _));

    [Fact]
    public void Every_instant_comes_back() => Gen.Long.Sample(nanoseconds =>
        Rfc3339.TryParse(Rfc3339.Format(new Instant(nanoseconds)), out var back) && back == new Instant(nanoseconds));
}
