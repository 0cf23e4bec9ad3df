using CsCheck;

namespace LaserWatch.Trends;

/// <summary>Places among values that are not sorted, against sorted ones.</summary>
public class RankSumsTests
{
    private static readonly Gen<double[]> Values = Gen.Select(Gen.Double[-3, 3].Array[1, 200], Gen.Int[0, 4], Gen.Int[0, 3])
        .Select((values, digits, order) =>
        {
            var rounded = values.Select(value => Math.Round(value, digits));
            return (order == 0 ? rounded.Order() : order == 1 ? rounded.OrderDescending() : rounded).ToArray();
        });

    [Fact]
    public void A_place_is_told_without_sorting() => Gen.Select(Values, Gen.Int[0, 199].Array[1, 4]).Sample(
        (values, places) =>
        {
            var sorted = values.Order().ToArray();
            foreach (var place in places.Select(place => place % values.Length))
                Assert.Equal(sorted[place], RankSums.Select(values, place));
            Assert.Equal(sorted, values.Order());
        },
        iter: 10_000);

    [Fact]
    public void What_is_not_found_in_time_is_sorted() => Gen.Select(Values, Gen.Int[0, 199], Gen.Int[0, 5]).Sample(
        (values, place, rounds) =>
        {
            var sorted = values.Order().ToArray();
            place %= values.Length;
            Assert.Equal(sorted[place], RankSums.Select(values, place, rounds));
            Assert.All(values[..place], value => Assert.True(value <= sorted[place]));
        },
        iter: 10_000);

    [Fact]
    public void The_median_is_that_of_the_sorted_values() => Values.Sample(
        values => Assert.Equal(RankSums.MedianOfSorted(values.Order().ToArray()), RankSums.Median(values)), iter: 10_000);

    [Fact]
    public void A_place_among_values_that_rise_and_fall_by_turns_is_found_too()
    {
        const int Count = 4000;
        var pipe = Enumerable.Range(0, Count).Select(i => i % 2 == 0 ? i : (2.0 * Count) - i).ToArray();

        Assert.Equal(pipe.Order().ElementAt(Count / 3), RankSums.Select(pipe.ToArray(), Count / 3));
    }
}
