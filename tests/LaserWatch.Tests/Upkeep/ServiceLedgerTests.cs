using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

public class ServiceLedgerTests
{
    private static readonly Instant Start = Scene.Start;

    [Fact]
    public void A_part_is_known_by_its_newest_work_and_the_beam_since()
    {
        var ledger = new ServiceLedger();
        Beam(ledger, fromHour: 0, hours: 3);
        ledger.Observe(Work(3, "lens", "cleaned", note: "with isopropanol"));
        Beam(ledger, fromHour: 3, hours: 2);

        Assert.Equal(new PartUpkeep("lens", "cleaned", Start + TimeSpan.FromHours(3), 2, null, "with isopropanol"), Rounded(ledger.Of("lens")));
        Assert.Equal(2.0 / 24, ledger.Of("lens")!.Value.DaysSince(Start + TimeSpan.FromHours(5)), 12);
        Assert.Null(ledger.Of("mirror"));
        Assert.Equal(5, ledger.BeamHours, 9);
    }

    [Theory]
    [InlineData("Water Trap", "Drained")]
    [InlineData("water_trap", "drained")]
    [InlineData(" water-trap ", "DRAINED")]
    public void Parts_and_actions_are_found_however_they_are_spelled(string part, string action)
    {
        var ledger = new ServiceLedger();

        ledger.Observe(Work(1, part, action));

        Assert.Equal(("water-trap", "drained"), (ledger.Of("water-trap")!.Value.Part, ledger.Of(part, action)!.Value.LastAction));
    }

    [Fact]
    public void Only_another_tube_counts_as_a_tube_put_in()
    {
        var ledger = new ServiceLedger();
        ledger.Observe(Work(1, "tube", "replaced", serial: "T-000002"));
        ledger.Observe(Work(2, "tube", "inspected"));

        Assert.Equal("inspected", ledger.Of("tube")!.Value.LastAction);
        Assert.Equal(("T-000002", Start + TimeSpan.FromHours(1)), (ledger.TubeInstalled!.Value.Serial, ledger.TubeInstalled.Value.At));
    }

    [Fact]
    public void Work_entered_late_finds_its_place_to_the_day_and_never_hides_newer_work()
    {
        var ledger = new ServiceLedger();
        for (var day = 0; day < 10; day++)
            Beam(ledger, fromHour: 24 * day, hours: 4);

        ledger.Observe(Work(24 * 7, "lens", "cleaned"));
        ledger.Observe(Work(24 * 5, "lens", "cleaned"));
        ledger.Observe(Work(24 * 5, "mirror", "cleaned"));

        Assert.Equal(Start + TimeSpan.FromDays(7), ledger.Of("lens")!.Value.At);
        Assert.InRange(ledger.Of("lens")!.Value.BeamHoursSince, 11.999, 16);
        Assert.InRange(ledger.Of("mirror")!.Value.BeamHoursSince, 19.999, 24);
    }

    [Fact]
    public void The_hour_meter_counts_what_was_cut_while_the_watch_was_off_and_its_own_count_what_a_stuck_meter_misses()
    {
        var ledger = new ServiceLedger();
        ledger.ReadMeter(Start, 7421.3);
        Beam(ledger, 0, 1);
        ledger.ReadMeter(Start + TimeSpan.FromHours(1), 7422.3);
        ledger.ReadMeter(Start + TimeSpan.FromHours(30), 7434.3);

        Assert.Equal((13, 7434.3), (Math.Round(ledger.BeamHours, 9), ledger.Meter));

        Beam(ledger, 30, 20);
        ledger.ReadMeter(Start + TimeSpan.FromHours(50), 7434.3);

        Assert.Equal(21, ledger.BeamHours, 9);
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(5.0)]
    [InlineData(90_000.0)]
    public void A_meter_set_back_or_exchanged_adds_only_what_it_counts_from_then_on(double reads)
    {
        var ledger = new ServiceLedger();
        ledger.ReadMeter(Start, 7000);
        ledger.ReadMeter(Start + TimeSpan.FromHours(2), 7001);
        ledger.ReadMeter(Start + TimeSpan.FromHours(3), reads);
        ledger.ReadMeter(Start + TimeSpan.FromHours(5), reads + 1.5);

        Assert.Equal(2.5, ledger.BeamHours, 9);
    }

    [Fact]
    public void A_meter_whose_last_digit_flickers_does_not_run_away()
    {
        var ledger = new ServiceLedger();
        for (var second = 0; second < 3600; second++)
            ledger.ReadMeter(Start + TimeSpan.FromSeconds(second), 100 + (0.1 * (second % 2)));

        Assert.Equal(0.1, ledger.BeamHours, 9);
    }

    [Fact]
    public void The_last_twenty_test_cuts_are_kept_with_their_fields_in_order_of_time()
    {
        var ledger = new ServiceLedger();
        for (var hour = 25; hour >= 1; hour--)
            ledger.Observe(Work(hour, "test-cut", "made", details: new() { ["power"] = "60", ["outcome"] = $"cut {hour}" }));
        ledger.Observe(Work(25, "test-cut", "made", details: new() { ["outcome"] = "through" }));

        Assert.Equal(Enumerable.Range(6, 20).Select(h => Start + TimeSpan.FromHours(h)), ledger.TestCuts.Select(c => c.At));
        Assert.Equal("through", ledger.TestCuts[^1].Details["outcome"]);
    }

    [Fact]
    public void The_pair_longest_ago_is_forgotten_when_the_log_names_too_many()
    {
        var ledger = new ServiceLedger();
        for (var i = 1; i <= 201; i++)
            ledger.Observe(Work(i, $"part-{i}", "served"));

        Assert.Equal(200, ledger.Parts.Count);
        Assert.Null(ledger.Of("part-1"));
    }

    [Fact]
    public void What_was_saved_comes_back_whole()
    {
        Gen.Int[0, 10_000].Sample(
            seed =>
            {
                var random = new Random(seed);
                var ledger = new ServiceLedger();
                for (var i = 0; i < 60; i++)
                {
                    if (random.Next(3) == 0)
                        ledger.Observe(Work(random.Next(i + 1), random.Next(2) == 0 ? "lens" : "test-cut", "cleaned", "S", "n", new() { ["k"] = $"{i}" }));
                    Beam(ledger, 13 * i, random.Next(5));
                    ledger.ReadMeter(Start + TimeSpan.FromHours(13 * i), 100 + i);
                }

                var state = StateVisitor.Save(ledger.Visit);
                var back = new ServiceLedger();
                Assert.True(StateVisitor.TryLoad(state, back.Visit));

                Assert.Equal(state, StateVisitor.Save(back.Visit));
                Assert.Equal(ledger.Parts, back.Parts);
                Assert.Equal(ledger.TestCuts.Select(c => (c.At, c.Details["k"])), back.TestCuts.Select(c => (c.At, c.Details["k"])));
            },
            iter: 50);
    }

    [Fact]
    public void The_watch_counts_beam_from_the_samples_and_takes_the_log()
    {
        var scene = new Scene();
        for (var t = 0; t < 1800; t++)
            scene.Say(1, new ChannelValue(Channel.Lasing, t < 900 ? 1 : 0), new(Channel.Runtime, 50 + (t / 36000.0)));
        scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, "lens", "cleaned", null, null, ServiceEvent.NoDetails));
        for (var t = 0; t < 360; t++)
            scene.Say(1, new ChannelValue(Channel.TubeCurrent, 18), new(Channel.Lasing, 1));

        Assert.Equal(0.1, scene.Watch.Ledger.Of("lens")!.Value.BeamHoursSince, 3);
        Assert.Equal(0.35, scene.Watch.Ledger.BeamHours, 3);
    }

    [Fact]
    public void A_night_without_samples_is_no_beam_even_when_the_last_word_was_on()
    {
        var scene = new Scene();
        for (var t = 0; t < 36; t++)
            scene.Say(1, new ChannelValue(Channel.Lasing, 1));
        scene.Now += TimeSpan.FromHours(12);
        scene.Watch.Observe(scene.Now, [new(Channel.Lasing, 1)]);

        Assert.InRange(scene.Watch.Ledger.BeamHours, 35 / 3600.0, 156 / 3600.0);
    }

    private static void Beam(ServiceLedger ledger, int fromHour, int hours)
    {
        for (var minute = 0; minute <= hours * 60; minute++)
            ledger.Follow(Start + TimeSpan.FromHours(fromHour) + TimeSpan.FromMinutes(minute), minute < hours * 60);
    }

    private static ServiceEvent Work(int hour, string part, string action, string? serial = null, string? note = null, Dictionary<string, string>? details = null) =>
        new("bay1", Start + TimeSpan.FromHours(hour), part, action, serial, note, details ?? []);

    private static PartUpkeep? Rounded(PartUpkeep? part) => part is { } p ? p with { BeamHoursSince = Math.Round(p.BeamHoursSince, 9) } : null;
}
