using System.Globalization;
using System.Text;
using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

public class SensorTimeTests
{
    private static readonly Instant Arrival = Instant.From(new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    // The first three are examples of RFC 3339 section 5.8 (memory).
    [Theory]
    [InlineData("1985-04-12T23:20:50.52Z", 482196050_520000000)]
    [InlineData("1996-12-19T16:39:57-08:00", 851042397_000000000)]
    [InlineData("1990-12-31T23:59:60Z", 662688000_000000000)]
    [InlineData("2026-03-09T08:00:00.250Z", 1773043200_250000000)]
    [InlineData("2026-03-09t09:00:00.250+01:00", 1773043200_250000000)]
    [InlineData("2026-03-09 13:45:00+05:45", 1773043200_000000000)]
    [InlineData("2026-03-09T08:00:00.123456789z", 1773043200_123456789)]
    [InlineData("2026-03-09T08:00:00.1234567899Z", 1773043200_123456789)]
    [InlineData("1969-12-31T23:59:59.999999999Z", -1)]
    public void RFC_3339_is_read_to_the_nanosecond(string text, long expected)
    {
        Assert.True(SensorTime.TryParseText(Encoding.UTF8.GetBytes(text), out var time));
        Assert.Equal(expected, time!.Value.UnixNanoseconds);
    }

    [Theory]
    [InlineData("2026-03-09T08:00:00")]
    [InlineData("2026-03-09T08:00:00+0100")]
    [InlineData("2026-03-09T08:00:00+1:00")]
    [InlineData("2026-03-09T08:00:00.Z")]
    [InlineData("2026-02-29T08:00:00Z")]
    [InlineData("2026-13-09T08:00:00Z")]
    [InlineData("2026-03-09T24:00:00Z")]
    [InlineData("2026-03-09T08:00:61Z")]
    [InlineData("0000-03-09T08:00:00Z")]
    [InlineData("2026-03-09")]
    [InlineData("20260309T080000Z")]
    [InlineData("2026-03-09T08:00:00ZZ")]
    [InlineData("yesterday at eight o'clock")]
    [InlineData("")]
    public void Text_that_is_not_RFC_3339_with_an_offset_is_no_time(string text) =>
        Assert.False(SensorTime.TryParseText(Encoding.UTF8.GetBytes(text), out _));

    [Fact]
    public void Any_time_with_any_offset_comes_back() =>
        Gen.Select(Gen.Long[-6_000_000_000, 9_000_000_000], Gen.Int[0, 9_999_999], Gen.Int[-14 * 60, 14 * 60]).Sample((seconds, ticks, offset) =>
        {
            var time = DateTimeOffset.FromUnixTimeSeconds(seconds).AddTicks(ticks).ToOffset(TimeSpan.FromMinutes(offset));
            var text = time.ToString("yyyy-MM-dd'T'HH:mm:ss.fffffffzzz", CultureInfo.InvariantCulture);
            Assert.True(SensorTime.TryParseText(Encoding.UTF8.GetBytes(text), out var back));
            Assert.Equal(Instant.From(time), back);
        });

    [Theory]
    [InlineData("1773043200", 1773043200_000000000)]
    [InlineData("1773043200.25", 1773043200_250000000)]
    [InlineData("1773043200.123456789", 1773043200_123456789)]
    [InlineData("1.773043200250e9", 1773043200_250000000)]
    [InlineData("1773043200250", 1773043200_250000000)]
    [InlineData("1773043200250123", 1773043200_250123000)]
    [InlineData("1773043200250123456", 1773043200_250123456)]
    [InlineData("-1", -1_000_000_000)]
    [InlineData("0", 0)]
    [InlineData("1e300", long.MaxValue)]
    [InlineData("-1e300", long.MinValue)]
    public void Numbers_are_seconds_or_thousandths_and_so_on_by_their_size(string text, long expected)
    {
        Assert.True(SensorTime.TryParseEpoch(Encoding.UTF8.GetBytes(text), out var time));
        Assert.Equal(expected, time!.Value.UnixNanoseconds);
    }

    [Theory]
    [InlineData("")]
    [InlineData("NaN")]
    [InlineData("Infinity")]
    [InlineData("12s")]
    [InlineData("1,5")]
    public void What_is_no_number_is_no_time(string text) => Assert.False(SensorTime.TryParseEpoch(Encoding.UTF8.GetBytes(text), out _));

    [Theory]
    [InlineData(0, false)]
    [InlineData(60, false)]
    [InlineData(60.001, true)]
    [InlineData(-7 * 86_400, false)]
    [InlineData(-(7 * 86_400) - 0.001, true)]
    [InlineData(-1e12, true)]
    public void A_time_too_far_from_arrival_is_not_believed(double secondsAfterArrival, bool expected)
    {
        var told = SensorTime.FromSeconds(((decimal)secondsAfterArrival) + (Arrival.UnixNanoseconds / 1_000_000_000m));

        var taken = SensorTime.Believe(told, Arrival, PayloadOptions.Default, out var skewed);

        Assert.Equal((expected ? Arrival : told, expected), (taken, skewed));
    }
}
