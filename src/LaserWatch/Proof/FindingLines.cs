using LaserWatch.Alarms;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>Looks up on which lines of the file the samples of a finding stand.</summary>
/// <remarks>A reading of its own: while nothing differs, nobody needs line numbers.</remarks>
internal static class FindingLines
{
    public static void Fill(Func<Stream> open, string machine, VerificationReport report)
    {
        var wanted = new Dictionary<(long Minute, string Channel), (int Place, long First, long Last)>();
        for (var i = 0; i < report.Findings.Count; i++)
        {
            if (report.Findings[i] is { Channel: { } channel, Minute: { } minute, FirstLine: null } && Rfc3339.TryParse(minute, out var at))
                wanted[(TimeGrid.MinuteOf(at), channel)] = (i, 0, 0);
        }

        if (wanted.Count == 0)
            return;
        var minutes = wanted.Keys.Select(key => key.Minute).ToHashSet();
        using var reader = new RecordingReader(open(), new ChannelTable());
        while (reader.Read() is { } e)
        {
            if (e.Kind != RecordingEventKind.Telemetry || e.Machine != machine || !minutes.Contains(TimeGrid.MinuteOf(e.At)))
                continue;
            foreach (var (channel, _) in e.Values)
            {
                var key = (TimeGrid.MinuteOf(e.At), channel.Name);
                if (wanted.TryGetValue(key, out var lines))
                    wanted[key] = (lines.Place, lines.First == 0 ? e.Line : Math.Min(lines.First, e.Line), Math.Max(lines.Last, e.Line));
            }
        }

        foreach (var (place, first, last) in wanted.Values.Where(lines => lines.First > 0))
            report.Replace(place, report.Findings[place] with { FirstLine = first, LastLine = last });
    }
}
