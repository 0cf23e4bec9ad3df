using LaserWatch.Benchmarks.Speed;

namespace LaserWatch.Speed;

/// <summary>The table of the benches. What they measure proves nothing in a test; that one out of all bounds is seen, does.</summary>
public sealed class SpeedReportTests : IDisposable
{
    private readonly StringWriter _talk = new();

    public void Dispose() => _talk.Dispose();

    [Fact]
    public async Task A_line_shows_both_sides_the_ratio_and_whether_the_goal_is_kept()
    {
        var (table, isSane) = await RunAsync(Ratio("reading", 0.62), Ratio("writing", 0.41));

        Assert.True(isSane);
        Assert.Contains("| reading | 62 k/s | 100 k/s | 0.62 | ≥ 0.5 | met |", table, StringComparison.Ordinal);
        Assert.Contains("| writing | 41 k/s | 100 k/s | 0.41 | ≥ 0.5 | **missed** |", table, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_missed_goal_is_sane_and_a_ratio_out_of_all_bounds_is_not()
    {
        var (_, isSane) = await RunAsync(Ratio("reading", 0.62), Ratio("writing", 0.02));

        Assert.False(isSane);
        Assert.Contains("Out of all bounds: writing: 0.02, expected 0.1 to 10", _talk.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_part_that_is_not_here_is_named_and_the_other_benches_run()
    {
        var lacking = new Bench("broker", (_, _) => throw new MissingPartException("mosquitto is not installed"));
        var (table, isSane) = await SpeedReport.RunAsync([lacking, Of(Ratio("reading", 0.62))], Length.Smoke, _talk, CancellationToken.None);

        Assert.False(isSane);
        Assert.Contains("broker: not measured, mosquitto is not installed", table, StringComparison.Ordinal);
        Assert.Contains("| reading |", table, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(79.9, true)]
    [InlineData(80, true)]
    [InlineData(80.1, false)]
    public void A_most_is_kept_up_to_its_bound(double value, bool met) => Assert.Equal(met, Goal.AtMost(80, "MB").IsMetBy(value));

    [Fact]
    public void Every_bench_has_a_word_of_its_own() =>
        Assert.Equal(Bench.All.Count, Bench.All.Select(b => b.Name).Distinct(StringComparer.Ordinal).Count());

    private Task<(string Table, bool IsSane)> RunAsync(params Figure[] figures) =>
        SpeedReport.RunAsync([Of(figures)], Length.Smoke, _talk, CancellationToken.None);

    private static Bench Of(params Figure[] figures) => new("some", (_, _) => Task.FromResult<IReadOnlyList<Figure>>(figures));

    private static Figure Ratio(string what, double ratio) => new(what, FormattableString.Invariant($"{ratio * 100:0} k/s"), "100 k/s", ratio, Goal.AtLeast(0.5), (0.1, 10));
}
