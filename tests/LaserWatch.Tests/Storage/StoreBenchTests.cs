using LaserWatch.Benchmarks;

namespace LaserWatch.Storage;

/// <summary>That the bench of the store runs, and that what it says of size stays so. It compares every sample read with those written; its times prove nothing here.</summary>
public sealed class StoreBenchTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_simulated_day_takes_at_most_a_byte_a_sample_at_rest_and_comes_back_to_the_bit()
    {
        var day = await PackedStore.MeasureAsync("day", _folder.File("day.db"), StoreTelemetry.Simulate(TimeSpan.FromDays(1), Stamps.Together), 5000);

        Assert.Equal((8 * 86_400, 86_400), (day.Samples, day.ChannelSamples));
        Assert.InRange(day.BytesPerSample, 0.1, 1.0);
        Assert.InRange((double)day.LiveBytes / day.Samples, day.BytesPerSample, 3.5); // up to two hours of a day in rows
    }

    [Fact]
    public async Task Stamps_of_arrival_cost_less_than_a_byte_more()
    {
        var hours = await PackedStore.MeasureAsync("hours", _folder.File("hours.db"), StoreTelemetry.Simulate(TimeSpan.FromHours(12), Stamps.OnArrival), 5000);

        // A saved state of 55 kB and the pages that stay free are a large part of so little.
        Assert.InRange(hours.BytesPerSample, 0.3, 1.5 + (120_000.0 / hours.Samples));
    }

    [Fact]
    public async Task The_table_has_a_line_for_the_raw_library_and_two_for_the_store()
    {
        var figures = await StoreReport.MeasureAsync(TimeSpan.FromHours(1));
        var table = StoreReport.Print(figures);

        Assert.Equal(3, figures.Count);
        Assert.InRange(figures[0].BytesPerSample, 15, 40);
        Assert.Contains("| rows, raw library |", table, StringComparison.Ordinal);
    }
}
