using CsCheck;
using LaserWatch.Jobs;
using LaserWatch.Life;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

public class TubeHistoryTests
{
    [Fact]
    public void The_blocks_are_the_very_ones_that_the_live_watch_judges()
    {
        var shop = new TubeShop().Work(0, 12, day => 1 - (0.002 * day));
        var history = shop.History();
        var watch = Live(shop);

        var window = watch.Tube.All;
        var blocks = history.BlocksOf(1).Blocks;
        Assert.Equal(watch.Tube.BlocksEver, blocks.Count);
        for (var back = 0; back < window.Count; back++)
            Assert.Equal((window.Time(back).UnixNanoseconds, window.Ratio(back)), (blocks[^(back + 1)].At, blocks[^(back + 1)].Ratio));
    }

    [Fact]
    public void A_days_estimate_is_what_the_live_watchs_series_says_of_the_day()
    {
        // One power: the live watch keeps the highest powers in a course of their own.
        var shop = new TubeShop().Work(0, 26, day => 1 - (0.002 * day), TubeShop.Birch);
        var course = Live(shop).Tube.Top;

        var live = HealthDays.Of(course.Series, course.Change with { Kind = Trends.ChangeKind.None }, course.Wander);
        var days = shop.History().DaysOf(1);

        Assert.Equal(19, live.Days.Length); // the last day's stint is still open
        for (var i = 0; i < live.Days.Length; i++)
        {
            Assert.Equal(live.Days[i], ChannelTrend.ToDays(days[i].At), 0.001);
            Assert.Equal(live.Ratios[i], days[i].Value, 0.001);
        }
    }

    [Fact]
    public void Pooled_days_follow_the_tube_and_carry_its_days_wander()
    {
        var days = new TubeShop { Wander = 0.004 }.Work(0, 40, day => 1 - (0.001 * day)).History().DaysOf(1);

        Assert.Equal(30, days.Count);
        Assert.All(days, day => Assert.InRange(day.Value, (1 - (0.001 * (day.Day.DayNumber - days[0].Day.DayNumber))) - 0.015, (1 - (0.001 * (day.Day.DayNumber - days[0].Day.DayNumber))) + 0.015));
        Assert.All(days, day => Assert.InRange(day.Error, 0.003, 0.008));
        Assert.All(days, day => Assert.InRange(day.Count, 10, 60));
    }

    [Fact]
    public void One_power_takes_blocks_within_a_point_of_it_and_no_others()
    {
        var history = new TubeShop().Work(0, 5, _ => 1).History();

        Assert.Equal([48, 66], history.PowersOf(1).Select(power => power.Percent));
        Assert.Equal(history.PowersOf(1)[1].Blocks, history.DaysOf(1, 66.5).Sum(day => day.Count));
        Assert.Equal(history.PowersOf(1)[0].Blocks, history.DaysOf(1, 47.2).Sum(day => day.Count));
        Assert.Empty(history.DaysOf(1, 60));
    }

    [Fact]
    public void Engraving_says_nothing_of_the_tube()
    {
        var history = new TubeShop().Work(0, 5, _ => 1, TubeShop.Birch, TubeShop.Felt).History();

        Assert.Equal([66], history.PowersOf(1).Select(power => power.Percent));
    }

    [Fact]
    public void A_replaced_tube_begins_anew_with_its_own_baseline()
    {
        var shop = new TubeShop().Serve(0, "tube", "installed", "T-000001").Work(0, 12, day => 1 - (0.005 * day))
            .Serve(14, "Tube", "Replaced", "T-000002").Work(14, 21, _ => 0.97);
        var history = shop.History();

        Assert.Equal(
            [(1, "T-000001", shop.Services[0].At, shop.Services[1].At), (2, "T-000002", shop.Services[1].At, default(Instant?))],
            history.Tubes.Select(tube => (tube.Number, tube.Serial!, tube.Installed!.Value, tube.Removed)));
        Assert.Equal(10, history.DaysOf(1).Count);
        Assert.InRange(history.DaysOf(1)[^1].Value, 0.93, 0.96);
        Assert.Equal(5, history.DaysOf(2).Count);
        Assert.All(history.DaysOf(2), day => Assert.InRange(day.Value, 0.985, 1.015));
        // Half a minute of beam of each 34 seconds.
        Assert.InRange(history.Tubes[0].BeamHours, 10 * 24 / 60.0 * 0.8, 10 * 24 / 60.0 * 0.95);
    }

    [Fact]
    public void A_replacement_logged_twice_is_one()
    {
        var shop = new TubeShop().Work(0, 5, _ => 1).Serve(7, "tube", "replaced", "T-000002").Serve(7, "tube", "replaced").Work(7, 12, _ => 1);

        Assert.Equal([null, "T-000002"], shop.History().Tubes.Select(tube => tube.Serial));
    }

    [Fact]
    public void Where_nobody_told_of_runs_all_steady_beam_counts_as_one_run_of_an_unknown_job()
    {
        var shop = new TubeShop().Work(0, 12, day => 1 - (0.002 * day));

        var (known, unknown) = (shop.History().DaysOf(1), shop.History(runsAreKnown: false).DaysOf(1));

        Assert.Equal(known.Count, unknown.Count);
        Assert.All(known.Zip(unknown), pair => Assert.Equal(pair.First.Value, pair.Second.Value, 0.004));
    }

    [Fact]
    public void An_announced_run_that_was_forgotten_ends_after_half_an_hour_without_beam()
    {
        var shop = new TubeShop().Work(0, 5, _ => 1, TubeShop.Birch);
        shop.Runs.RemoveAll(run => run.At >= TubeShop.Morning(1)); // only the first day was announced, and its end did not come
        shop.Runs.RemoveAt(1);

        // The next morning's beam belongs to no run that anybody told of.
        Assert.Single(shop.History().DaysOf(1));
    }

    [Fact]
    public void A_value_that_no_sound_sensor_says_changes_nothing()
    {
        var shop = new TubeShop().Work(0, 5, _ => 1);
        var sound = shop.History().DaysOf(1);
        for (var i = shop.Samples.Count - 4; i >= 0; i -= 36) // four samples an instant
            shop.Samples.Insert(i, new Sample(Channel.TubeCurrent, shop.Samples[i].At + TimeSpan.FromMilliseconds(-1), 400));

        Assert.Equal(sound, shop.History().DaysOf(1));
    }

    [Fact]
    public void How_the_samples_are_cut_into_spans_means_nothing()
    {
        var shop = new TubeShop().Work(0, 5, day => 1 - (0.01 * day)).Serve(3, "tube", "replaced");
        shop.Work(5, 8, _ => 1);
        var whole = shop.History();

        Gen.Int[1, 3000].Array[1, 20].Sample(
            cuts =>
            {
                var cut = shop.Tell(new TubeHistory(TubeShop.Options, TubeShop.Book), cut: at => cuts[at % cuts.Length]);
                Assert.Equal(whole.Tubes, cut.Tubes);
                foreach (var tube in whole.Tubes)
                    Assert.Equal(whole.BlocksOf(tube.Number).Blocks, cut.BlocksOf(tube.Number).Blocks);
            },
            iter: 20);
    }

    private static MachineWatch Live(TubeShop shop)
    {
        var watch = new MachineWatch(TubeShop.Machine, TubeShop.Options, TubeShop.Book);
        var events = new Queue<JobEvent>(shop.Runs);
        foreach (var moment in shop.Samples.GroupBy(sample => sample.At))
        {
            while (events.TryPeek(out var run) && run.At <= moment.Key)
                watch.Observe(events.Dequeue());
            watch.Observe(moment.Key, [.. moment.Select(sample => new ChannelValue(sample.Channel, sample.Value))]);
        }

        watch.Tick(shop.Samples[^1].At + TimeSpan.FromSeconds(10));
        watch.Tick(shop.Samples[^1].At + TimeSpan.FromSeconds(20));
        return watch;
    }
}
