using CsCheck;

namespace LaserWatch.Calibration;

public class TableStepTests
{
    private static readonly TableStep Table = Of((0, 0), (1, 10), (3, 20), (4, 0));

    [Theory]
    [InlineData(0, 0)]
    [InlineData(0.25, 2.5)]
    [InlineData(1, 10)]
    [InlineData(2, 15)]
    [InlineData(3, 20)]
    [InlineData(3.5, 10)]
    [InlineData(4, 0)]
    public void Between_points_the_table_is_straight(double raw, double expected)
    {
        Assert.True(Table.TryApply(raw, out var value, out _));
        Assert.Equal(expected, value);
    }

    [Theory]
    [InlineData(-0.01, 0)]
    [InlineData(4.01, 0)]
    public void Beyond_its_ends_it_gives_no_value_unless_the_ends_are_clamped(double raw, double end)
    {
        Assert.False(Table.TryApply(raw, out _, out var fault));
        Assert.Equal(CalibrationFault.OutsideTable, fault);
        Assert.True((Table with { ClampEnds = true }).TryApply(raw, out var value, out _));
        Assert.Equal(end, value);
    }

    [Fact]
    public void Any_raw_value_gets_what_a_walk_along_the_rows_would_give() =>
        Gen.Select(Gen.Double[0.01, 5].Array[1, 30], Gen.Double[-100, 100].Array[31], Gen.Double[0, 1]).Sample((widths, values, where) =>
        {
            var raws = new double[widths.Length + 1];
            for (var i = 0; i < widths.Length; i++)
                raws[i + 1] = raws[i] + widths[i];
            var table = Of([.. raws.Select((raw, i) => (raw, values[i]))]);
            var raw = where * raws[^1];

            Assert.True(table.TryApply(raw, out var value, out _));
            var row = Enumerable.Range(0, widths.Length).First(i => raw <= raws[i + 1]);
            var expected = values[row] + ((raw - raws[row]) / (raws[row + 1] - raws[row]) * (values[row + 1] - values[row]));
            Assert.Equal(expected, value, 1e-9);
        });

    [Fact]
    public void Rows_that_are_too_few_unsorted_or_double_are_mistakes()
    {
        Assert.Equal(["points has 0 rows: give 2 to 1000"], new TableStep().Mistakes());
        Assert.Equal(
            ["points[1]: raw 1 stands twice: remove one of the rows", "points[2]: raw 0 comes after 1: sort the rows by rising raw"],
            Of((1, 0), (1, 1), (0, 2)).Mistakes());
        Assert.Equal(["points[1]: raw and value must be finite numbers"], Of((1, 0), (double.NaN, 1)).Mistakes());
        Assert.Empty(Table.Mistakes());
    }

    private static TableStep Of(params (double Raw, double Value)[] rows) =>
        new() { Points = [.. rows.Select(row => new TablePoint { Raw = row.Raw, Value = row.Value })] };
}
