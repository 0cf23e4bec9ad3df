using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

public class UnansweredTests
{
    private static readonly DeliveryOptions Options = Told.By(("office", Told.RaisedAndEnded), ("boss", Told.OnlyWhatIsUnanswered), ("owner", Told.OnlyWhatIsUnanswered)) with
    {
        IfUnanswered = [new() { AfterMinutes = 10, To = ["boss"] }, new() { AfterMinutes = 30, To = ["owner"], AtLeast = AlarmPriority.Urgent }],
    };

    [Fact]
    public void What_nobody_acknowledges_is_told_further_step_by_step()
    {
        using var bench = new LedgerBench(Options);
        bench.Post("air-pressure-lost", priority: AlarmPriority.Urgent);
        bench.Post("coolant-hot", priority: AlarmPriority.High);
        bench.Post("tube-life", priority: AlarmPriority.Medium);
        bench.To("2026-03-09T08:09:59Z");
        Assert.Empty(bench.Said("boss"));
        bench.To("2026-03-09T08:10:00Z");
        Assert.Equal(["unanswered: air-pressure-lost raised", "unanswered: coolant-hot raised"], bench.Said("boss"));
        Assert.Equal(TimeSpan.FromMinutes(10), bench.Last("boss").After);
        Assert.NotEqual(bench.Last("boss").Id, bench.Last("boss").Entries[0].Change.Id());
        bench.To("2026-03-09T08:30:00Z");

        Assert.Equal(["unanswered: air-pressure-lost raised"], bench.Said("owner"));
        Assert.Empty(bench.Said("boss"));
        Assert.Equal(3, bench.Said().Count); // the office is not told again
    }

    [Theory]
    [InlineData(AlarmState.Acknowledged)]
    [InlineData(AlarmState.Shelved)]
    [InlineData(AlarmState.SuppressedByDesign)]
    [InlineData(AlarmState.OutOfService)]
    [InlineData(AlarmState.ReturnedUnacknowledged)]
    [InlineData(AlarmState.Normal)]
    public void Seen_set_aside_or_over_it_stops(AlarmState state)
    {
        using var bench = new LedgerBench(Options);
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:09:00Z").Post("coolant-hot", state);
        bench.To("2026-03-09T09:00:00Z");

        Assert.Empty(bench.Said("boss"));
    }

    [Fact]
    public void Raised_again_after_it_was_seen_the_time_begins_anew()
    {
        using var bench = new LedgerBench(Options);
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:05:00Z").Post("coolant-hot", AlarmState.Acknowledged);
        bench.To("2026-03-09T08:06:00Z").Post("coolant-hot");
        bench.To("2026-03-09T08:15:59Z");
        Assert.Empty(bench.Said("boss"));
        bench.To("2026-03-09T08:16:00Z");

        Assert.Equal(["unanswered: coolant-hot raised"], bench.Said("boss"));
    }

    [Fact]
    public void One_that_gets_worse_keeps_its_time_and_tells_the_worse()
    {
        using var bench = new LedgerBench(Options);
        bench.Post("tube-current-sag");
        bench.To("2026-03-09T08:08:00Z").Post("tube-current-sag", priority: AlarmPriority.Urgent);
        bench.To("2026-03-09T08:10:00Z");

        Assert.Equal(["unanswered: tube-current-sag raised"], bench.Said("boss"));
        Assert.Equal(AlarmPriority.Urgent, bench.Last("boss").Entries[0].Change.Priority);
        bench.To("2026-03-09T08:38:00Z"); // the second step counts from where it began to apply
        Assert.Single(bench.Said("owner"));
    }

    [Fact]
    public void The_time_runs_on_over_a_restart_and_what_came_due_meanwhile_waits_until_the_samples_are_there()
    {
        using var bench = new LedgerBench(Options);
        var raised = bench.Post("coolant-hot");
        bench.To("2026-03-09T08:04:00Z").Restart(raised);
        bench.To("2026-03-09T08:09:59Z");
        Assert.Empty(bench.Said("boss"));
        bench.Restart(raised);
        bench.To("2026-03-09T08:10:58Z");
        Assert.Empty(bench.Said("boss"));
        bench.To("2026-03-09T08:11:00Z");
        Assert.Equal(["unanswered: coolant-hot raised"], bench.Said("boss"));
        bench.Restart(raised);
        bench.To("2026-03-09T09:11:00Z");
        Assert.Empty(bench.Said("boss"));
    }

    [Fact]
    public void Whom_it_was_told_to_further_hears_how_it_goes_on()
    {
        using var bench = new LedgerBench(Options);
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:10:00Z").Post("coolant-hot", AlarmState.Acknowledged);
        bench.To("2026-03-09T08:20:00Z").Post("coolant-hot", AlarmState.Normal);
        bench.To("2026-03-09T08:21:00Z").Post("coolant-hot");

        Assert.Equal(["unanswered: coolant-hot raised", "news: coolant-hot acknowledged", "news: coolant-hot ended"], bench.Said("boss"));
        Assert.Empty(bench.Said("owner"));
    }

    [Fact]
    public void Held_by_rest_hours_it_is_dropped_when_somebody_has_seen_it_by_then()
    {
        using var bench = new LedgerBench(Options with
        {
            TimeZone = "Europe/Berlin",
            Webhooks = new Dictionary<string, WebhookOptions>(Options.Webhooks) { ["boss"] = Told.OnlyWhatIsUnanswered with { RestHours = new() { Below = AlarmPriority.Urgent } } },
        }, "2026-01-15T22:30:00Z");
        bench.Post("coolant-hot");
        bench.Post("coolant-cold");
        bench.To("2026-01-15T22:40:00Z");
        Assert.Equal((0, 2), bench.Count("boss"));
        bench.To("2026-01-16T05:00:00Z").Post("coolant-hot", AlarmState.Acknowledged);
        bench.To("2026-01-16T06:00:00Z");

        Assert.Equal(["unanswered: coolant-cold raised"], bench.Said("boss"));
    }

    [Fact]
    public void What_was_lost_with_a_crash_and_never_found_again_does_not_go_further()
    {
        using var bench = new LedgerBench(Options);
        bench.Post("coolant-hot");
        bench.To("2026-03-09T08:01:00Z").Restart(); // the store does not know it
        bench.To("2026-03-09T08:30:00Z");

        Assert.Empty(bench.Said("boss"));
    }
}
