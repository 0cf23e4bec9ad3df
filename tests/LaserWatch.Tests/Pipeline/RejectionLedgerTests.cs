using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

public class RejectionLedgerTests
{
    private static readonly Instant Start = Instant.FromUnixSeconds(1_773_043_200);

    private readonly LogLines<RejectionLedger> _log = new();
    private readonly RejectionLedger _ledger;

    public RejectionLedgerTests() => _ledger = new(_log);

    [Fact]
    public void Each_reason_and_topic_is_logged_once_a_minute_and_counted_every_time()
    {
        for (var second = 0; second < 61; second++)
        {
            _ledger.Count(Rejection.NotANumber, "bay1", "laserwatch/bay1/air_pressure", "'n/a'", Start + TimeSpan.FromSeconds(second));
            _ledger.Count(Rejection.UnknownTopic, null, "weather", null, Start + TimeSpan.FromSeconds(second));
        }

        Assert.Equal(
            [
                "Not taken from laserwatch/bay1/air_pressure: not_a_number ('n/a')",
                "Not taken from weather: unknown_topic",
                "Not taken from laserwatch/bay1/air_pressure: not_a_number ('n/a'); and 59 more since that was last said",
                "Not taken from weather: unknown_topic; and 59 more since that was last said",
            ],
            _log.Warnings);
        Assert.Equal(new Dictionary<string, long> { ["unknown_topic"] = 61, ["not_a_number"] = 61 }, _ledger.Total);
        Assert.Equal(new Dictionary<string, long> { ["not_a_number"] = 61, ["elsewhere_unknown_topic"] = 61 }, _ledger.Of("bay1"));
        Assert.Equal(new Dictionary<string, long> { ["elsewhere_unknown_topic"] = 61 }, _ledger.Of("bay2"));
    }

    [Fact]
    public void A_flood_of_topics_is_counted_whole_and_logged_within_bounds()
    {
        for (var i = 0; i < 100_000; i++)
            _ledger.Count(Rejection.UnknownTopic, null, $"mad/{i}", null, Start);

        Assert.Equal(100_000, _ledger.Total["unknown_topic"]);
        Assert.Equal(RejectionLedger.MostTopics, _log.Warnings.Count);
    }

    [Fact]
    public void A_log_line_holds_no_control_characters_and_no_long_topic()
    {
        _ledger.Count(Rejection.UnknownTopic, null, "a\r\n2026-03-09 forged" + new string('x', 60_000), null, Start);

        var line = Assert.Single(_log.Warnings);
        Assert.DoesNotContain('\n', line);
        Assert.InRange(line.Length, 1, 250);
    }

    [Fact]
    public void A_skewed_clock_is_logged_once_for_its_topic()
    {
        for (var i = 0; i < 3; i++)
            _ledger.CountSkew("laserwatch/bay1/air_pressure", 2);

        Assert.Equal(["The sensor's clock at laserwatch/bay1/air_pressure is out of bounds; time of arrival is used instead"], _log.Warnings);
        Assert.Equal(6, _ledger.SkewedTimes);
    }
}
