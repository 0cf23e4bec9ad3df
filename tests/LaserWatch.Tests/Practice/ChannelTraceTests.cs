using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

public class ChannelTraceTests
{
    private static readonly Instant Start = new(1_773_041_400_000_000_000);

    [Fact]
    public void Columns_are_means_and_a_slow_sensor_is_held_for_half_a_minute()
    {
        var trace = new ChannelTrace();
        foreach (var (second, value) in ((int, double)[])[(1, 10), (2, 20), (11, 30), (95, 40)])
            trace.Add(Start + TimeSpan.FromSeconds(second), value);

        Assert.Equal([15, 30, 30, 30, 30, null, null, null, null, 40], trace.Means(Start + TimeSpan.FromSeconds(100), TimeSpan.FromSeconds(10), 10));
    }

    [Fact]
    public void What_is_not_drawn_is_still_the_latest_value()
    {
        var trace = new ChannelTrace();
        trace.Add(Start, 210);
        trace.Add(Start + TimeSpan.FromSeconds(1), 0, isDrawn: false);

        Assert.Equal(0, trace.Last);
        Assert.Equal([210], trace.Means(Start + TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(10), 1));
    }
}
