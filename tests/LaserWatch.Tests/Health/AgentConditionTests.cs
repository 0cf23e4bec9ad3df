using LaserWatch.Mqtt;

namespace LaserWatch.Health;

public sealed class AgentConditionTests
{
    [Fact]
    public async Task While_everything_works_nothing_is_at_fault()
    {
        await using var bench = new HealthBench();

        Assert.True(bench.Condition.Judges);
        Assert.Empty(bench.Condition.Faults);
    }

    [Fact]
    public async Task A_pipeline_that_handles_no_tick_is_stuck_and_the_agent_not_live()
    {
        await using var bench = new HealthBench();
        bench.Advance(30);
        Assert.True(bench.Condition.Judges);
        bench.Advance(1);

        Assert.False(bench.Condition.Judges);
        Assert.Equal(new PartLook("pipeline", PartState.Bad, "stuck: no tick was handled for 31 s", IsNeededToJudge: true), bench.Look("pipeline"));
        bench.Beat();
        Assert.True(bench.Condition.Judges);
    }

    [Fact]
    public async Task Before_the_watch_is_taken_up_the_agent_lives_and_is_not_ready()
    {
        await using var bench = new HealthBench();
        bench.Figures.IsWatching = false;
        bench.Advance(3600);

        Assert.True(bench.Condition.Judges);
        Assert.Equal(["resumed"], bench.Condition.Faults.Select(f => f.Part));
    }

    [Fact]
    public async Task Without_the_broker_the_agent_is_not_ready()
    {
        await using var bench = new HealthBench();
        bench.Link.IsConnected = false;

        Assert.Equal(["broker"], bench.Condition.Faults.Select(f => f.Part));
        Assert.True(bench.Condition.Judges);
    }

    [Fact]
    public async Task A_store_that_takes_nothing_is_a_fault_until_it_works_again()
    {
        await using var bench = new HealthBench();
        bench.Store.Fault = new IOException("disk full");
        bench.Store1();
        await RealBroker.UntilAsync(() => bench.Look("store").State == PartState.Bad, "the store's failure is not seen");
        Assert.Contains("takes nothing; 1 items wait", bench.Look("store").Why, StringComparison.Ordinal);

        bench.Store.Fault = null;
        await RealBroker.UntilAsync(
            () =>
            {
                bench.Advance(1); // the writer's own wait
                bench.Beat();
                return bench.Condition.Faults.Count == 0;
            },
            "the store is not well again");
    }

    [Fact]
    public async Task A_store_that_hangs_and_says_nothing_is_a_fault_too()
    {
        await using var bench = new HealthBench();
        bench.Store.Hold();
        bench.Store1();
        await bench.Store.AttemptAsync();
        Assert.Equal(PartState.Good, bench.Look("store").State);
        bench.Advance(31);
        bench.Beat();

        Assert.Equal(["store"], bench.Condition.Faults.Select(f => f.Part));
        bench.Store.Release();
        await RealBroker.UntilAsync(() => bench.Condition.Faults.Count == 0, "the store is not well again");
    }

    [Fact]
    public async Task A_clock_that_jumped_is_told_for_an_hour_and_keeps_nothing_from_working()
    {
        await using var bench = new HealthBench();
        bench.Wall.Step(TimeSpan.FromHours(-2));
        bench.Clock.Look();
        bench.Advance(5);

        Assert.Equal(new PartLook("clock", PartState.Impaired, "set back by 2:00:00, 5 s ago; jumps since the start: 1", IsNeededToJudge: false), bench.Look("clock"));
        Assert.Empty(bench.Condition.Faults);
        bench.Advance(3600);
        Assert.Equal(PartState.Good, bench.Look("clock").State);
    }
}
