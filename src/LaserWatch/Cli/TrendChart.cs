using System.Globalization;
using LaserWatch.History;

namespace LaserWatch.Cli;

/// <summary>A trend drawn with letters that every terminal has; no meaning is in colour.</summary>
internal static class TrendChart
{
    private const int Rows = 14;
    private const int LeastColumns = 20;
    private const char Day = 'o', Line = '-', Limit = '.', Work = '|', Change = ':';

    public static void Print(ChannelTrend trend, TextWriter output, int width)
    {
        var numbers = new TrendNumbers(trend);
        var (low, high) = Reach(trend);
        var labels = Enumerable.Range(0, Rows).Select(row => row % 3 == 0 || row == Rows - 1 ? numbers.Value(high - (row * (high - low) / (Rows - 1))) : "").ToArray();
        var margin = labels.Max(label => label.Length) + 1;
        var columns = Math.Max(LeastColumns, width - margin - 2);
        var page = new char[Rows, columns];
        for (var i = 0; i < Rows * columns; i++)
            page[i / columns, i % columns] = ' ';
        var (first, last) = (ChannelTrend.ToDays(trend.Days[0].At), ChannelTrend.ToDays(trend.Days[^1].At));
        if (last - first < 1)
            (first, last) = (first - 0.5, last + 0.5);

        var shown = trend.Thresholds.Where(t => t.Value >= low && t.Value <= high).GroupBy(t => Row(t.Value)).ToList();
        foreach (var threshold in shown)
            Write(threshold.Key, string.Join(", ", threshold.Select(t => t.Name)));
        foreach (var mark in trend.Services)
            Column(ChannelTrend.ToDays(mark.At), Work);
        if (trend.Change is { Kind: Trends.ChangeKind.Step } step)
            Column(step.BeganDays, Change);
        for (var column = 0; trend.Line is not null && column < columns; column++)
        {
            var at = first + (column * (last - first) / (columns - 1));
            if (at >= ChannelTrend.ToDays(trend.Days[trend.LineFrom].At) - 0.5)
                Set(Row(trend.Line.At(at)), column, Line);
        }

        foreach (var day in trend.Days)
            Set(Row(day.Value), ColumnOf(ChannelTrend.ToDays(day.At)), Day);

        for (var row = 0; row < Rows; row++)
            output.WriteLine($"{labels[row].PadLeft(margin)} |{string.Concat(Enumerable.Range(0, columns).Select(column => page[row, column])).TrimEnd()}");
        output.WriteLine($"{numbers.Unit.PadLeft(margin)} +{new string('-', columns)}");
        var (from, to) = (TrendSentences.Date(trend.Days[0].At), TrendSentences.Date(trend.Days[^1].At));
        output.WriteLine(new string(' ', margin + 2) + from + to.PadLeft(columns - from.Length));
        output.WriteLine(new string(' ', margin + 2) + Legend(trend, shown.Count > 0));

        int Row(double value) => (int)Math.Round((high - value) / (high - low) * (Rows - 1));
        int ColumnOf(double at) => (int)Math.Round((at - first) / (last - first) * (columns - 1));
        void Set(int row, int column, char letter)
        {
            if (row >= 0 && row < Rows && column >= 0 && column < columns)
                page[row, column] = letter;
        }

        void Column(double at, char letter)
        {
            for (var row = 0; row < Rows; row++)
                Set(row, ColumnOf(Math.Clamp(at, first, last)), letter);
        }

        void Write(int row, string name)
        {
            for (var column = 0; column < columns; column++)
                Set(row, column, Limit);
            for (var i = 0; i < name.Length; i++)
                Set(row, columns - name.Length - 1 + i, name[i]);
        }
    }

    // The estimates, the line, and the thresholds that are not far beyond them.
    private static (double Low, double High) Reach(ChannelTrend trend)
    {
        var values = trend.Days.Select(day => day.Value).ToList();
        if (trend.IsHealthRatio)
            values.Add(1);
        var (low, high) = (values.Min(), values.Max());
        var near = Math.Max(high - low, 4 * trend.Days.Average(day => day.Error));
        foreach (var threshold in trend.Thresholds.Where(t => t.Value > low - near && t.Value < high + near))
            (low, high) = (Math.Min(low, threshold.Value), Math.Max(high, threshold.Value));
        var room = high > low ? 0.05 * (high - low) : Math.Max(Math.Abs(high) * 0.01, 0.5);
        return (low - room, high + room);
    }

    private static string Legend(ChannelTrend trend, bool thresholds)
    {
        List<string> words = [$"{Day} day"];
        if (trend.Line is not null)
            words.Add($"{Line} robust line");
        if (thresholds)
            words.Add($"{Limit} threshold");
        if (trend.Services.Count > 0)
            words.Add($"{Work} work done");
        if (trend.Change is { Kind: Trends.ChangeKind.Step })
            words.Add($"{Change} step");
        return string.Join("   ", words);
    }
}
