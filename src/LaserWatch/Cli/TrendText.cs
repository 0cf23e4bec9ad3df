using System.Globalization;
using LaserWatch.History;

namespace LaserWatch.Cli;

/// <summary>A trend for reading: what it is and what it says first, then the days, then what was done, what is missing, what to mind and how it was found.</summary>
internal static class TrendText
{
    /// <param name="width">Of the page, in letters.</param>
    /// <param name="terminal">The output is one, and tables can be drawn.</param>
    public static void Print(ChannelTrend trend, TextWriter output, int width, bool terminal, bool chart)
    {
        output.WriteLine($"{trend.Machine}: {trend.What}");
        if (trend.Tube is { } tube)
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{tube.Words}; {tube.BeamHours:0} beam hours stored"));
        output.WriteLine();
        Summary(trend, output, width);
        output.WriteLine();
        if (chart)
        {
            TrendChart.Print(trend, output, width);
            output.WriteLine();
        }

        Rows(trend, output, terminal);
        Section(output, "Done in that time", trend.Services.Select(mark => $"{TrendSentences.Date(mark.At)}  {mark.Label}{(mark.Note is null ? "" : $": {mark.Note}")}"), width);
        Section(output, "Without an estimate", trend.Gaps.Select(gap => $"{TrendSentences.Date(gap.From)} to {TrendSentences.Date(gap.To)}  {gap.Why}"), width);
        Section(output, "To mind", trend.Cautions, width);
        Section(output, "How this was found", trend.Method, width);
    }

    private static void Summary(ChannelTrend trend, TextWriter output, int width)
    {
        var numbers = new TrendNumbers(trend);
        var since = trend.LineFrom > 0 ? $"; the line is of the {trend.Days.Count - trend.LineFrom} since {TrendSentences.Date(trend.Days[trend.LineFrom].At)}" : "";
        Line("seen", $"{TrendSentences.Date(trend.Days[0].At)} to {TrendSentences.Date(trend.Days[^1].At)}, {trend.Days.Count} day(s) with an estimate{since}");
        Line("now", TrendSentences.Now(trend) + Milliamps(trend));
        Line("a month", TrendSentences.PerMonth(trend));
        if (TrendSentences.Course(trend) is { } course)
            Line("course", course);
        foreach (var level in trend.Thresholds.GroupBy(threshold => threshold.Value))
            Line("threshold", $"{numbers.Plain(level.Key)}{Baseline(trend, level.Key)}: {string.Join(", ", level.Select(threshold => threshold.Name))}");
        Line("projected", TrendSentences.Projected(trend));
        if (trend.Line is not null)
            Line("", $"Intervals are of {TrendNumbers.Percent(trend.Confidence)}.");

        void Line(string name, string text)
        {
            var first = true;
            foreach (var part in Wrapped(text, width - 13))
            {
                output.WriteLine($"  {(first ? name : ""),-11}{part}");
                first = false;
            }
        }
    }

    private static string Milliamps(ChannelTrend trend) => trend.BaselineMilliamps is { } baseline && trend.Now is { } now
        ? string.Create(CultureInfo.InvariantCulture, $", {baseline * now.Value:0.00} mA of {baseline:0.00} mA")
        : "";

    private static string Baseline(ChannelTrend trend, double threshold) => trend.BaselineMilliamps is { } baseline
        ? string.Create(CultureInfo.InvariantCulture, $" ({baseline * threshold:0.00} mA)")
        : "";

    private static void Rows(ChannelTrend trend, TextWriter output, bool terminal)
    {
        var numbers = new TrendNumbers(trend);
        var rows = TrendRows.Of(trend, out var heading);
        var (unit, hasPower) = (numbers.Unit.Length == 0 ? "" : " " + numbers.Unit, trend.Milliamps is not null);
        List<string> columns = [heading, (trend.IsHealthRatio ? "health" : trend.Channel.Name) + unit, "std error", "line"];
        if (hasPower)
            columns.Add("mA");
        columns.AddRange(heading == "day" ? [] : ["days"]);
        columns.AddRange([trend.IsHealthRatio ? "blocks" : "minutes", "done"]);
        var listing = new Listing([.. columns]);
        for (var i = 0; i < rows.Count; i++)
        {
            var row = rows[i];
            var next = i + 1 < rows.Count ? rows[i + 1].From : DateOnly.MaxValue;
            List<string> cells = [row.From.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), numbers.Value(row.Value), numbers.Fine(row.Error), LineAt(trend, numbers, row)];
            if (hasPower)
                cells.Add(row.Milliamps is { } milliamps ? milliamps.ToString("0.00", CultureInfo.InvariantCulture) : "");
            cells.AddRange(heading == "day" ? [] : [row.Days.ToString(CultureInfo.InvariantCulture)]);
            cells.AddRange([row.Count.ToString(CultureInfo.InvariantCulture), string.Join("; ", trend.Services.Where(m => IsIn(m, i == 0 ? DateOnly.MinValue : row.From, next)).Select(m => m.Label))]);
            listing.Row([.. cells]);
        }

        listing.Print(output, terminal);
    }

    private static bool IsIn(ServiceMark mark, DateOnly from, DateOnly to) =>
        DateOnly.FromDateTime(mark.At.ToDateTimeOffset().UtcDateTime) is var day && day >= from && day < to;

    // In the middle of the row; nothing before the line begins.
    private static string LineAt(ChannelTrend trend, TrendNumbers numbers, TrendRows.Row row)
    {
        if (trend.Line is null || row.To < trend.Days[trend.LineFrom].Day)
            return "";
        var days = trend.Days.Where(day => day.Day >= row.From && day.Day <= row.To).ToList();
        return numbers.Value(trend.Line.At(days.Average(day => ChannelTrend.ToDays(day.At))));
    }

    private static void Section(TextWriter output, string heading, IEnumerable<string> lines, int width)
    {
        var any = false;
        foreach (var line in lines)
        {
            if (!any)
            {
                output.WriteLine();
                output.WriteLine(heading);
            }

            any = true;
            var first = true;
            foreach (var part in Wrapped(line, width - 4))
            {
                output.WriteLine((first ? "  - " : "    ") + part);
                first = false;
            }
        }
    }

    /// <summary>The text in lines of at most so many letters, broken at blanks.</summary>
    private static IEnumerable<string> Wrapped(string text, int width)
    {
        while (text.Length > width && width > 0)
        {
            var end = text.LastIndexOf(' ', Math.Min(width, text.Length - 1));
            if (end <= 0)
                end = text.IndexOf(' ', width) is var next and > 0 ? next : text.Length;
            yield return text[..end];
            text = text[end..].TrimStart();
        }

        if (text.Length > 0)
            yield return text;
    }
}
