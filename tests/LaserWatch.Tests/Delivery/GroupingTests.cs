using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>Rest hours, gathered messages and floods: one mechanism.</summary>
public class GroupingTests
{
    private static readonly WebhookOptions Resting = Told.RaisedAndEnded with { RestHours = new() { From = "22:00", To = "07:00", Below = AlarmPriority.High } };

    [Fact]
    public void In_rest_hours_what_is_less_urgent_waits_and_comes_in_one_message_when_they_end()
    {
        using var bench = Bench(Resting, "2026-01-15T22:30:00Z"); // 23:30 in Berlin
        bench.Post("tube-life", priority: AlarmPriority.Low);
        bench.To("2026-01-16T01:00:00Z").Post("coolant-drift", priority: AlarmPriority.Medium);
        bench.Post("air-pressure-lost", priority: AlarmPriority.Urgent);
        Assert.Equal(["news: air-pressure-lost raised"], bench.Said());
        bench.To("2026-01-16T05:59:59Z");
        Assert.Equal((0, 2), bench.Count());
        bench.To("2026-01-16T06:00:00Z");

        Assert.Equal(["gathered: coolant-drift raised, tube-life raised"], bench.Said());
    }

    [Fact]
    public void What_ended_meanwhile_is_told_as_ended_and_not_as_news()
    {
        using var bench = Bench(Resting, "2026-01-15T22:30:00Z");
        var raised = bench.Post("coolant-drift", priority: AlarmPriority.Medium);
        bench.To("2026-01-15T23:30:00Z").Post("coolant-drift", AlarmState.ReturnedUnacknowledged, AlarmPriority.Medium);
        bench.To("2026-01-16T06:00:00Z");

        Assert.Equal(["news: coolant-drift ended"], bench.Said());
        var entry = Assert.Single(bench.Last().Entries);
        Assert.Equal((raised.Time, raised.Id()), (entry.Raised!.Time, Assert.Single(entry.Overtaken)));
    }

    [Fact]
    public void It_is_told_as_ended_even_where_ends_are_not_asked_for()
    {
        using var bench = Bench(Resting with { Transitions = [AlarmTransition.Raised] }, "2026-01-15T22:30:00Z");
        bench.Post("coolant-drift", priority: AlarmPriority.Medium);
        bench.To("2026-01-15T23:30:00Z").Post("coolant-drift", AlarmState.ReturnedUnacknowledged, AlarmPriority.Medium);
        bench.To("2026-01-16T06:00:00Z");

        Assert.Equal(["news: coolant-drift ended"], bench.Said());
    }

    [Fact]
    public void One_that_gets_worse_in_rest_hours_goes_at_once_and_is_not_repeated_in_the_morning()
    {
        using var bench = Bench(Resting, "2026-01-15T22:30:00Z");
        bench.Post("tube-current-sag", priority: AlarmPriority.Medium);
        bench.To("2026-01-15T23:30:00Z").Post("tube-current-sag", priority: AlarmPriority.High);
        Assert.Equal(["news: tube-current-sag raised"], bench.Said());
        bench.To("2026-01-16T06:00:00Z");

        Assert.Empty(bench.Said());
    }

    [Fact]
    public void What_is_held_survives_a_restart_and_the_end_of_the_hours_while_nobody_ran()
    {
        using var bench = Bench(Resting, "2026-01-15T22:30:00Z");
        bench.Post("coolant-drift", priority: AlarmPriority.Medium);
        bench.Restart();
        Assert.Empty(bench.Said());
        bench.To("2026-01-16T06:30:00Z");

        Assert.Equal(["late news: coolant-drift raised"], bench.Said());
    }

    // Berlin, 2026: clocks go on at 01:00 UTC on 29 March, and back at 01:00 UTC on 25 October (time zone data of the library).
    [Theory]
    [InlineData("22:00", "07:00", "2026-03-28T23:00:00Z", "2026-03-29T05:00:00Z")] // an hour shorter
    [InlineData("22:00", "07:00", "2026-10-24T22:00:00Z", "2026-10-25T06:00:00Z")] // an hour longer
    [InlineData("22:00", "02:30", "2026-03-28T23:00:00Z", "2026-03-29T01:30:00Z")] // 02:30 is left out: moved on by the gap
    [InlineData("22:00", "02:30", "2026-10-24T22:00:00Z", "2026-10-25T00:30:00Z")] // 02:30 comes twice: the first
    [InlineData("12:00", "13:00", "2026-07-01T10:30:00Z", "2026-07-01T11:00:00Z")] // within a day, in summer
    public void Rest_hours_end_by_the_local_clock_whatever_daylight_saving_does(string from, string to, string posted, string end)
    {
        using var bench = Bench(Told.RaisedAndEnded with { RestHours = new() { From = from, To = to } }, posted);
        bench.Post("tube-life", priority: AlarmPriority.Low);

        Assert.Empty(bench.Said());
        Assert.True(Rfc3339.TryParse(end, out var expected));
        Assert.Equal(expected, bench.Due());
    }

    [Fact]
    public void They_do_not_begin_again_when_the_hour_comes_twice()
    {
        using var bench = Bench(Told.RaisedAndEnded with { RestHours = new() { From = "22:00", To = "02:30" } }, "2026-10-25T01:15:00Z"); // 02:15 for the second time
        bench.Post("tube-life", priority: AlarmPriority.Low);

        Assert.Equal(["news: tube-life raised"], bench.Said());
    }

    [Fact]
    public void Low_priority_is_gathered_for_its_times_and_the_rest_at_once()
    {
        using var bench = Bench(Told.RaisedAndEnded with { GatherAt = ["07:00", "16:00"] }, "2026-07-01T06:00:00Z"); // 08:00 in Berlin
        bench.Post("tube-life", priority: AlarmPriority.Low);
        bench.Post("service-due", priority: AlarmPriority.Low);
        bench.Post("coolant-hot", priority: AlarmPriority.Medium);
        Assert.Equal(["news: coolant-hot raised"], bench.Said());
        bench.To("2026-07-01T13:59:00Z");
        Assert.Empty(bench.Said());
        bench.To("2026-07-01T14:00:00Z");

        Assert.Equal(["gathered: service-due raised, tube-life raised"], bench.Said());
    }

    [Fact]
    public void What_is_gathered_for_a_time_in_rest_hours_waits_for_their_end()
    {
        using var bench = Bench(Resting with { GatherAt = ["06:00"] }, "2026-07-01T10:00:00Z");
        bench.Post("tube-life", priority: AlarmPriority.Low);

        Assert.True(Rfc3339.TryParse("2026-07-02T05:00:00Z", out var expected)); // 07:00 in Berlin
        Assert.Equal(expected, bench.Due());
    }

    [Fact]
    public void In_a_flood_the_root_goes_first_and_the_rest_in_one_message_for_each_interval()
    {
        using var bench = new LedgerBench(Told.By(("office", Told.RaisedAndEnded)) with { TimeZone = "Europe/Berlin", FloodIntervalMinutes = 10 }) { Flood = new() { StartsAt = 3, EndsBelow = 2 } };
        bench.Restart(); // with these options
        bench.Post("tube-life", priority: AlarmPriority.Low);
        bench.Post("service-due", priority: AlarmPriority.Low);
        Assert.Equal(["news: tube-life raised", "news: service-due raised"], bench.Said());

        bench.To("2026-03-09T08:00:10Z").Post("coolant-flow-low");
        bench.To("2026-03-09T08:00:20Z").Post("coolant-hot");
        bench.Post("coolant-flow-low", machine: "bay2");
        bench.Post("air-pressure-lost", priority: AlarmPriority.Urgent, machine: "bay3");
        bench.Post("service-due", AlarmState.Normal, AlarmPriority.Low);
        Assert.Equal(["news: coolant-flow-low raised", "news: bay3 air-pressure-lost raised"], bench.Said());
        bench.To("2026-03-09T08:10:19Z");
        Assert.Empty(bench.Said());
        bench.To("2026-03-09T08:10:20Z");

        Assert.Equal(["gathered: coolant-hot raised, bay2 coolant-flow-low raised, service-due ended"], bench.Said());
    }

    private static LedgerBench Bench(WebhookOptions office, string now) => new(Told.By(("office", office)) with { TimeZone = "Europe/Berlin" }, now);
}
