using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using LaserWatch.Trends;
using MathNet.Numerics.Distributions;

namespace LaserWatch.History;

public class TrendTests
{
    private static readonly MonitorOptions Limited = MonitorOptions.Default with
    {
        Limits = new Dictionary<string, ChannelLimitOptions> { ["door_temperature"] = new() { Low = 10, High = 40 } },
    };

    [Fact]
    public void An_even_fall_is_told_with_its_slope_its_level_and_its_date()
    {
        var trend = Health(60, day => 1 - (0.001 * day), 0.002);

        Assert.True(trend.IsSure);
        Assert.Equal(-0.001 * ChannelTrend.DaysPerMonth, trend.PerMonth!.Value.Value, 0.003);
        Assert.InRange(1 - 0.059, trend.Now!.Value.Low, trend.Now.Value.High);
        Assert.Equal("end of life", trend.Projection.Threshold!.Name);
        // 150 days after the first.
        Assert.InRange(TubeShop.Morning(150).UnixNanoseconds, trend.Projection.Earliest!.Value.UnixNanoseconds, trend.Projection.Latest!.Value.UnixNanoseconds);
        Assert.Equal(ChangeKind.Ramp, trend.Change!.Value.Kind);
    }

    /// <summary>120 series: the standard error of a coverage of 90 % is 3 %. Sen's interval is conservative where the factor for autocorrelation catches chance.</summary>
    [Fact]
    public void The_interval_of_the_slope_covers_the_true_one_as_often_as_it_promises()
    {
        var (slopes, levels) = (0, 0);
        for (var seed = 0; seed < 120; seed++)
        {
            var trend = Health(50, day => 1 - (0.0005 * day), 0.004, seed);
            var month = trend.PerMonth!.Value;
            slopes += month.Low <= -0.0005 * ChannelTrend.DaysPerMonth && -0.0005 * ChannelTrend.DaysPerMonth <= month.High ? 1 : 0;
            var true_ = 1 - (0.0005 * (ChannelTrend.ToDays(trend.Days[^1].At) - ChannelTrend.ToDays(TubeShop.Morning(0))));
            levels += trend.Now!.Value.Low <= true_ && true_ <= trend.Now.Value.High ? 1 : 0;
        }

        Assert.InRange(slopes / 120.0, 0.82, 0.99);
        Assert.InRange(levels / 120.0, 0.82, 0.99);
    }

    [Fact]
    public void Chance_is_seldom_taken_for_a_sure_trend()
    {
        var sure = Enumerable.Range(0, 120).Count(seed => Health(50, _ => 1, 0.004, 1000 + seed).IsSure);

        Assert.InRange(sure, 0, 14); // one in twenty is promised: 6; three standard errors above that: 13
    }

    [Fact]
    public void Fewer_than_eight_days_make_no_line_and_say_so()
    {
        var trend = Health(8, day => 1 - (0.001 * day), 0.002); // six of them are weekdays

        Assert.Equal((null, null, null), ((object?)trend.Line, trend.Now, trend.PerMonth));
        Assert.Equal("6 day(s) with an estimate are too few: 8 are the least", trend.Refusal);
        Assert.Equal(trend.Refusal, trend.Projection.Refusal);
    }

    [Fact]
    public void No_day_is_no_trend()
    {
        var trend = Trend.Of(new TrendInput("bay1", Channel.CoolantIn, "", "°C", []));

        Assert.Equal(("there is no estimate", "there is no estimate"), (trend.Refusal, trend.Projection.Refusal));
    }

    [Fact]
    public void Days_all_at_one_value_are_a_level_line_that_is_not_sure()
    {
        var trend = Measured(Channel.AmbientHumidity, 30, _ => 50);

        Assert.Equal((50.0, 50.0, 50.0), trend.Now);
        Assert.Equal((0.0, 0.0, 0.0), trend.PerMonth);
        Assert.False(trend.IsSure);
    }

    [Fact]
    public void After_a_step_only_the_days_since_count()
    {
        var trend = Health(100, day => day < 50 ? 1 : 0.94, 0.002);

        Assert.Equal(ChangeKind.Step, trend.Change!.Value.Kind);
        Assert.Equal(TubeShop.Morning(50).ToString()[..10], trend.Days[trend.LineFrom].At.ToString()[..10]);
        Assert.Equal(0.06, trend.Change.Value.Fall, 0.005);
        Assert.Equal(0.94, trend.Now!.Value.Value, 0.003);
        Assert.False(trend.IsSure);
    }

    [Fact]
    public void Some_days_after_a_step_there_is_no_line_yet()
    {
        var trend = Health(55, day => day < 49 ? 1 : 0.93, 0.002);

        Assert.Null(trend.Line);
        Assert.StartsWith("5 day(s) with an estimate since the step on 2026-04-2", trend.Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public void A_rise_such_as_a_repair_makes_begins_another_story()
    {
        var trend = Health(100, day => day < 50 ? 0.90 - (0.0005 * day) : 0.99 - (0.001 * (day - 50)), 0.002);

        Assert.Equal(TubeShop.Morning(50).ToString()[..10], trend.Days[trend.LineFrom].At.ToString()[..10]);
        Assert.Equal(-0.001 * ChannelTrend.DaysPerMonth, trend.PerMonth!.Value.Value, 0.006);
    }

    [Fact]
    public void A_tube_seen_for_less_than_three_weeks_is_not_projected()
    {
        var trend = Health(19, day => 1 - (0.003 * day), 0.001);

        Assert.True(trend.IsSure);
        Assert.Equal((null, "it was seen for 18 days: three weeks are the least"), ((object?)trend.Projection.Earliest, trend.Projection.Refusal));
    }

    [Fact]
    public void A_tube_below_its_end_of_life_has_passed_it()
    {
        var trend = Health(60, day => 0.90 - (0.001 * day), 0.002);

        Assert.Equal((true, "the threshold is passed already"), (trend.Projection.Passed, trend.Projection.Refusal));
    }

    [Fact]
    public void Another_channel_meets_the_threshold_ahead_where_its_line_does()
    {
        var trend = Measured(Channel.CoolantIn, 60, day => 20 + (0.05 * day));

        Assert.Equal("too hot", trend.Projection.Threshold!.Name);
        // 30 °C, 200 days after the first; without noise the interval has no width.
        Assert.Equal(200, ChannelTrend.ToDays(trend.Projection.Median!.Value) - ChannelTrend.ToDays(TubeShop.Morning(0)), 1e-6);
        Assert.Equal(200, ChannelTrend.ToDays(trend.Projection.Earliest!.Value) - ChannelTrend.ToDays(TubeShop.Morning(0)), 1e-6);
        Assert.Equal(200, ChannelTrend.ToDays(trend.Projection.Latest!.Value) - ChannelTrend.ToDays(TubeShop.Morning(0)), 1e-6);
    }

    [Theory]
    [InlineData(20, 0, "the trend is not sure")]
    [InlineData(31, 0.01, "the threshold is passed already")]
    [InlineData(20, 0.001, "the threshold is farther away than the series allows to look")]
    public void Where_another_channel_has_no_date_it_says_why(double start, double slope, string why)
    {
        Assert.Equal(why, Measured(Channel.CoolantIn, 60, day => start + (slope * day)).Projection.Refusal);
    }

    [Fact]
    public void A_channel_of_ones_own_is_held_against_its_own_limits()
    {
        var table = new ChannelTable();
        var channel = table.Declare("door_temperature", "°C");

        var trend = Measured(channel, 60, day => 30 - (0.1 * day), Limited);

        Assert.Equal(["upper limit", "lower limit"], trend.Thresholds.Select(threshold => threshold.Name));
        Assert.Equal("below 10 °C is an alarm", trend.Projection.Threshold!.Meaning);
        Assert.Equal(200, ChannelTrend.ToDays(trend.Projection.Median!.Value) - ChannelTrend.ToDays(TubeShop.Morning(0)), 1e-6);
        Assert.Equal("no threshold is set for this channel", Measured(channel, 60, day => day).Projection.Refusal);
    }

    [Fact]
    public void A_week_without_an_estimate_is_a_gap_and_a_weekend_is_none()
    {
        var days = Days(60, _ => 1, 0).Where(day => day.At < TubeShop.Morning(20) || day.At > TubeShop.Morning(30)).ToList();

        var gap = Assert.Single(Trend.Of(new TrendInput("bay1", Channel.CoolantIn, "", "°C", days)).Gaps);

        Assert.Equal(new TrendGap(TubeShop.Morning(18), TubeShop.Morning(31), "no day with an estimate"), gap);
    }

    [Fact]
    public void A_power_that_falls_more_than_the_others_is_pointed_out()
    {
        var shop = new TubeShop().Serve(0, "tube", "installed");
        foreach (var day in Enumerable.Range(0, 12))
            shop.Work(day, day + 1, _ => day < 5 ? 1 : 0.92, TubeShop.Birch).Work(day, day + 1, _ => 1, TubeShop.Acrylic with { Power = new(80) });
        var history = shop.History();

        var trend = TubeTrend.Of(history, history.Tubes[^1], null, new TrendFrame("bay1", TubeShop.Options, Instant.MinValue, Instant.MaxValue, shop.Services, [], []));

        Assert.Contains(trend.Cautions, caution => caution.StartsWith("The powers differ lately: 92.", StringComparison.Ordinal) && caution.EndsWith("--power 66.", StringComparison.Ordinal));
    }

    private static ChannelTrend Health(int days, Func<int, double> ratio, double error, int seed = 7) => Trend.Of(
        new TrendInput("bay1", Channel.TubeCurrent, "", "", Days(days, ratio, error, seed))
        {
            IsHealthRatio = true,
            Wander = error * 0.9,
            Thresholds = TrendThresholds.OfHealth(MonitorOptions.Default),
        });

    private static ChannelTrend Measured(Channel channel, int days, Func<int, double> value, MonitorOptions? options = null) => MeasuredTrend.Of(
        channel, Days(days, value, 0), withBeam: true, new TrendFrame("bay1", options ?? MonitorOptions.Default, Instant.MinValue, Instant.MaxValue, [], [], []));

    private static List<DailyEstimate> Days(int days, Func<int, double> value, double error, int seed = 7)
    {
        var random = new Random(seed);
        return
        [
            .. Enumerable.Range(0, days).Where(day => day % 7 < 5).Select(day => new DailyEstimate(
                TubeShop.Morning(day), new DateOnly(2026, 3, 9).AddDays(day), value(day) + (error == 0 ? 0 : Normal.Sample(random, 0, error)), error, 100)),
        ];
    }
}
