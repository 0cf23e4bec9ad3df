using LaserWatch.Alarms;
using LaserWatch.Rules;

namespace LaserWatch.Delivery;

/// <summary>What is told to whom, once: over restarts, crashes and outages.</summary>
public class OutboxLedgerTests
{
    private static readonly DeliveryOptions Office = Told.By(("office", Told.RaisedAndEnded));

    [Fact]
    public void A_change_is_told_once_however_often_it_is_offered()
    {
        using var bench = new LedgerBench(Office);
        var change = bench.Post("coolant-hot");
        bench.Offer(change);
        bench.Restart(change);
        bench.Offer(change);
        bench.Offer(change, ChangeOrigin.FoundAgain);

        Assert.Equal(["news: coolant-hot raised"], bench.Said());
        Assert.Equal(change.Id(), bench.Last().Id);
    }

    [Fact]
    public void Raised_and_ended_are_told_and_what_a_person_does_is_not_unless_asked_for()
    {
        using var bench = new LedgerBench(Told.By(("office", Told.RaisedAndEnded), ("log", Told.Everything)));
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:00:10Z").Post("coolant-hot", AlarmState.Acknowledged);
        bench.To("2026-03-09T08:00:20Z").Post("coolant-hot", AlarmState.Normal);
        bench.To("2026-03-09T08:00:30Z").Post("coolant-hot");
        bench.To("2026-03-09T08:00:40Z").Post("coolant-hot", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-09T08:00:50Z").Post("coolant-hot", AlarmState.Normal);
        bench.To("2026-03-09T08:01:00Z").Post("coolant-hot", AlarmState.Shelved);

        Assert.Equal(["news: coolant-hot raised", "news: coolant-hot ended", "news: coolant-hot raised", "news: coolant-hot ended"], bench.Said());
        Assert.Equal(
            ["news: coolant-hot raised", "news: coolant-hot acknowledged", "news: coolant-hot ended", "news: coolant-hot raised",
             "news: coolant-hot ended", "news: coolant-hot acknowledged", "news: coolant-hot setaside"], bench.Said("log"));
    }

    [Fact]
    public void The_end_of_what_was_set_aside_before_anybody_heard_of_it_is_no_news()
    {
        using var bench = new LedgerBench(Office);
        bench.Post("tube-current-sag", AlarmState.SuppressedByDesign);
        bench.To("2026-03-09T08:00:10Z").Post("tube-current-sag", AlarmState.Normal);
        Assert.Empty(bench.Said());

        bench.To("2026-03-09T08:00:20Z").Post("tube-current-sag");
        bench.To("2026-03-09T08:00:30Z").Post("tube-current-sag", AlarmState.SuppressedByDesign);
        bench.To("2026-03-09T08:00:40Z").Post("tube-current-sag", AlarmState.Normal);
        Assert.Equal(["news: tube-current-sag raised", "news: tube-current-sag ended"], bench.Said());
    }

    [Fact]
    public void A_latched_alarm_ends_when_its_condition_does_and_its_reset_is_what_a_person_does()
    {
        using var bench = new LedgerBench(Told.By(("office", Told.Everything)));
        IReadOnlyList<Evidence> latched = [new(AlarmChange.LatchedEvidence, "needs a reset")];
        bench.Post("air-pressure-lost");
        bench.To("2026-03-09T08:00:10Z").Post("air-pressure-lost", AlarmState.Acknowledged);
        bench.To("2026-03-09T08:00:20Z").Offer(bench.Change("air-pressure-lost", AlarmState.Acknowledged) with { Evidence = latched });
        bench.To("2026-03-09T08:00:30Z").Post("air-pressure-lost", AlarmState.Normal);

        Assert.Equal(
            ["news: air-pressure-lost raised", "news: air-pressure-lost acknowledged", "news: air-pressure-lost ended", "news: air-pressure-lost acknowledged"], bench.Said());
    }

    [Fact]
    public void An_end_is_told_where_the_alarm_was_though_it_bears_a_lower_priority()
    {
        using var bench = new LedgerBench(Told.By(("office", Told.RaisedAndEnded with { AtLeast = AlarmPriority.High })));
        bench.Post("coolant-hot", priority: AlarmPriority.High);
        bench.Post("tube-life", priority: AlarmPriority.Medium);
        bench.To("2026-03-09T08:00:10Z").Post("coolant-hot", AlarmState.ReturnedUnacknowledged, AlarmPriority.Low);
        bench.Post("tube-life", AlarmState.ReturnedUnacknowledged, AlarmPriority.Low);

        Assert.Equal(["news: coolant-hot raised", "news: coolant-hot ended"], bench.Said());
        Assert.NotNull(bench.Last().Entries[0].Raised);
    }

    [Fact]
    public void Machines_and_conditions_choose()
    {
        using var bench = new LedgerBench(Told.By(
            ("office", Told.RaisedAndEnded with { Machines = ["bay2"] }), ("air", Told.RaisedAndEnded with { Conditions = ["air-pressure-lost"] })));
        bench.Post("coolant-hot");
        bench.Post("coolant-hot", machine: "bay2");
        bench.Post("air-pressure-lost");

        Assert.Equal(["news: bay2 coolant-hot raised"], bench.Said());
        Assert.Equal(["news: air-pressure-lost raised"], bench.Said("air"));
    }

    [Fact]
    public void What_waits_survives_a_restart_comes_in_order_and_says_that_it_is_late()
    {
        using var bench = new LedgerBench(Told.By(("office", Told.RaisedAndEnded), ("home", Told.RaisedAndEnded)));
        bench.Down.Add("office");
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:10:00Z").Post("coolant-hot", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-09T08:19:30Z").Post("coolant-cold");
        Assert.Equal((3, 0), bench.Count());
        bench.Down.Clear();
        bench.To("2026-03-09T08:20:00Z").Restart();

        Assert.Equal(["late news: coolant-hot raised", "late news: coolant-hot ended", "news: coolant-cold raised"], bench.Said());
        Assert.Equal(["news: coolant-hot raised", "news: coolant-hot ended", "news: coolant-cold raised"], bench.Said("home"));
        Assert.Equal(AlarmState.ReturnedUnacknowledged, bench.Taken["office"][0].Entries[0].Since!.State);
    }

    [Fact]
    public void What_the_store_holds_and_the_outbox_never_saw_is_told_after_the_start()
    {
        using var bench = new LedgerBench(Office);
        var before = bench.Change("service-due", AlarmState.Unacknowledged, ago: 1); // older than the outbox itself
        bench.To("2026-03-09T08:00:05Z");
        var seen = bench.Post("coolant-cold");
        bench.To("2026-03-09T08:00:10Z");
        var raised = bench.Change("coolant-hot", AlarmState.Unacknowledged, ago: 2);
        var ended = bench.Change("coolant-hot", AlarmState.ReturnedUnacknowledged, ago: 1);

        Assert.Equal(2, bench.Restart(before, ended, seen, raised));
        Assert.Equal(["news: coolant-cold raised", "news: coolant-hot raised", "news: coolant-hot ended"], bench.Said());
        Assert.Equal(0, bench.Restart(before, ended, seen, raised));
        Assert.Empty(bench.Said());
    }

    [Fact]
    public void What_was_overtaken_before_the_outbox_saw_it_is_not_told_any_more()
    {
        using var bench = new LedgerBench(Office);
        bench.To("2026-03-09T08:00:10Z");
        var lost = bench.Change("coolant-hot", AlarmState.Unacknowledged, ago: 5);
        var ended = bench.Post("coolant-hot", AlarmState.ReturnedUnacknowledged);

        Assert.Equal(1, bench.Restart(lost, ended));
        Assert.Equal(["news: coolant-hot ended"], bench.Said());
    }

    [Fact]
    public void A_change_found_again_by_a_tick_a_second_off_is_the_same_news()
    {
        using var bench = new LedgerBench(Office);
        bench.Post("sensor-silent");
        bench.To("2026-03-09T08:00:03Z");
        bench.Restart(); // the store never got it

        bench.Offer(bench.Change("sensor-silent", AlarmState.Unacknowledged, ago: 1), ChangeOrigin.FoundAgain);
        Assert.Equal(["news: sensor-silent raised"], bench.Said());
    }

    [Fact]
    public void Found_anew_in_live_running_after_a_crash_before_the_store_had_it_it_is_the_same_news_and_the_next_one_is_not()
    {
        using var bench = new LedgerBench(Office);
        bench.Post("sensor-silent");
        bench.To("2026-03-09T08:00:01Z").Post("sensor-silent", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-09T08:00:30Z").Restart();
        bench.Post("sensor-silent");
        bench.To("2026-03-09T08:00:31Z").Post("sensor-silent", AlarmState.ReturnedUnacknowledged);
        Assert.Equal(["news: sensor-silent raised", "news: sensor-silent ended"], bench.Said());

        bench.To("2026-03-09T08:00:40Z").Post("sensor-silent");
        Assert.Equal(["news: sensor-silent raised"], bench.Said());
    }

    [Fact]
    public void In_live_running_the_same_state_again_is_news()
    {
        using var bench = new LedgerBench(Office);
        var first = bench.Post("tube-current-sag");
        bench.To("2026-03-09T08:00:02Z").Restart(first);
        bench.Post("tube-current-sag");

        Assert.Equal(["news: tube-current-sag raised", "news: tube-current-sag raised"], bench.Said());
    }

    [Fact]
    public void What_was_stored_under_another_second_is_not_told_twice_though_it_is_not_the_newest()
    {
        using var bench = new LedgerBench(Office);
        var raised = bench.Post("sensor-silent");
        bench.To("2026-03-09T08:00:20Z");
        var ended = bench.Post("sensor-silent", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-09T08:00:30Z").Restart(raised, ended);
        bench.Offer(bench.Change("sensor-silent", AlarmState.Unacknowledged, ago: 28), ChangeOrigin.FoundAgain);
        bench.Offer(bench.Change("sensor-silent", AlarmState.ReturnedUnacknowledged, ago: 9), ChangeOrigin.FoundAgain);

        Assert.Equal(["news: sensor-silent raised", "news: sensor-silent ended"], bench.Said());
    }

    [Fact]
    public void One_that_came_and_went_and_came_again_within_seconds_is_news_when_it_is_found_after_a_crash()
    {
        using var bench = new LedgerBench(Office);
        var raised = bench.Post("air-pressure-low");
        bench.To("2026-03-09T08:00:03Z");
        var ended = bench.Post("air-pressure-low", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-09T08:00:08Z").Restart(raised, ended);
        bench.Said();
        bench.Offer(bench.Change("air-pressure-low", AlarmState.Unacknowledged, ago: 2), ChangeOrigin.FoundAgain);

        Assert.Equal(["news: air-pressure-low raised"], bench.Said());
    }

    [Fact]
    public void Killed_between_sending_and_mark_the_same_message_goes_again_under_the_same_id()
    {
        using var folder = new Storage.TemporaryFolder();
        var now = Telemetry.Instant.From(DeliveryBench.Start);
        var change = new AlarmChange(now, "bay1", "coolant-hot", AlarmState.Unacknowledged, AlarmPriority.High, 31, 30, "°C", null, "hot", [], []);
        AlarmMessage first;
        using (var ledger = new OutboxLedger(folder.File("a.outbox.db"), new DeliveryRouter(Office), new FloodOptions(), now))
        {
            ledger.Enter([(change, ChangeOrigin.Live)], now);
            first = ledger.Next("office", now)!.Value.Message;
        }

        using (var ledger = new OutboxLedger(folder.File("a.outbox.db"), new DeliveryRouter(Office), new FloodOptions(), now))
        {
            var again = ledger.Next("office", now)!.Value.Message;
            Assert.Equal((first.Id, change.Id()), (again.Id, change.Id()));
            Assert.Equal(MessageJson.ToUtf8(first), MessageJson.ToUtf8(again));
        }
    }

    [Fact]
    public void The_file_is_for_owner_and_group_and_a_foreign_one_is_left_alone()
    {
        using var folder = new Storage.TemporaryFolder();
        var now = Telemetry.Instant.From(DeliveryBench.Start);
        new OutboxLedger(folder.File("a.outbox.db"), new DeliveryRouter(Office), new FloodOptions(), now).Dispose();
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite, File.GetUnixFileMode(folder.File("a.outbox.db")));

        File.WriteAllText(folder.File("b.outbox.db"), "no database at all, but long enough to be looked at as one");
        var fault = Assert.Throws<Storage.StoreException>(() => new OutboxLedger(folder.File("b.outbox.db"), new DeliveryRouter(Office), new FloodOptions(), now));
        Assert.Contains("b.outbox.db cannot be opened", fault.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void What_is_old_is_forgotten_but_for_each_alarms_newest_change()
    {
        using var bench = new LedgerBench(Office with { KeepDays = 2 });
        var raised = bench.Post("coolant-hot");
        bench.To("2026-03-09T08:00:20Z");
        var ended = bench.Post("coolant-hot", AlarmState.ReturnedUnacknowledged);
        bench.To("2026-03-12T08:00:20Z").Forget();
        bench.Offer(ended); // still known
        Assert.Equal(2, bench.Said().Count);
        bench.Offer(raised); // not known any more: only what nobody offers again is forgotten
        Assert.Equal(["late news: coolant-hot raised"], bench.Said());
    }

    [Fact]
    public void What_waits_for_an_outlet_that_is_gone_from_the_configuration_is_counted_and_set_aside()
    {
        using var folder = new Storage.TemporaryFolder();
        var now = Telemetry.Instant.From(DeliveryBench.Start);
        var change = new AlarmChange(now, "bay1", "coolant-hot", AlarmState.Unacknowledged, AlarmPriority.High, 31, 30, "°C", null, "hot", [], []);
        using (var ledger = new OutboxLedger(folder.File("a.outbox.db"), new DeliveryRouter(Office), new FloodOptions(), now))
            ledger.Enter([(change, ChangeOrigin.Live)], now);

        using var other = new OutboxLedger(folder.File("a.outbox.db"), new DeliveryRouter(Told.By(("home", Told.RaisedAndEnded))), new FloodOptions(), now);
        Assert.Equal([("office", 1L)], other.DropUnknownOutlets(now));
        Assert.Empty(other.DropUnknownOutlets(now));
    }
}
