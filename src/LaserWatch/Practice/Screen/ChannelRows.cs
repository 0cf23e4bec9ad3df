using LaserWatch.Telemetry;

namespace LaserWatch.Practice.Screen;

/// <summary>A channel a row: its value, what is recorded for the job, and its last minutes drawn.</summary>
internal static class ChannelRows
{
    private const int ValueWidth = 7;
    private const int UnitWidth = 6;
    private const int RecordedWidth = 9;
    private const int RangeWidth = 14;
    private const int WidestName = 24;

    public static List<ScreenLine> Lines(PracticeSession session, IReadOnlyList<Channel> channels, int leftOut, TimeSpan span, int width, int tall, bool ascii)
    {
        var names = Math.Min(WidestName, Math.Max(7, channels.Count == 0 ? 0 : channels.Max(c => c.Name.Length)));
        var chart = width - names - 1 - ValueWidth - 1 - UnitWidth - RecordedWidth - 1 - 1 - RangeWidth;
        var title = $"{"channel".PadRight(names)} {"now",ValueWidth} {"",-UnitWidth}{"recorded",RecordedWidth} "
            + $"{$"the last {PracticeWords.Duration(span)}".PadRight(chart)} {"low .. high",RangeWidth}";
        List<ScreenLine> lines = [new(title.TrimEnd(), LineLook.Heading)];
        foreach (var channel in channels)
        {
            var trace = session.Trace(channel)!;
            var means = trace.Means(session.Now, span / chart, chart);
            var recorded = PracticeAnswers.Recorded(channel, session.Record);
            var (low, high) = BlockChart.Scale(means, recorded);
            var drawn = BlockChart.Lines(means, low, high, tall, ascii);
            var unit = channel.Unit.Length > UnitWidth - 1 ? "" : channel.Unit;
            var start = $"{Name(channel, names)} {PracticeWords.Number(trace.Last),ValueWidth} {unit,-UnitWidth}"
                + $"{(recorded is { } value ? PracticeWords.Number(value) : ""),RecordedWidth} ";
            var range = $"{PracticeWords.Number(low)} .. {PracticeWords.Number(high)}";
            for (var line = 0; line < tall; line++)
            {
                // The names stand at the foot of a tall chart, where its newest value mostly ends.
                var atFoot = line == tall - 1;
                lines.Add(new($"{(atFoot ? start : new string(' ', start.Length))}{drawn[line]} {(atFoot ? range : ""),RangeWidth}".TrimEnd()));
            }
        }

        if (leftOut > 0)
            lines.Add(new($"and {leftOut} more channel(s): r asks for them"));
        return lines;
    }

    /// <summary>A longer name loses its middle, not its end: there the difference mostly stands.</summary>
    private static string Name(Channel channel, int names) =>
        channel.Name.Length <= names ? channel.Name.PadRight(names) : $"{channel.Name[..(names - 12)]}..{channel.Name[^10..]}";
}
