using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>Looks over a case's folder, recording included.</summary>
/// <param name="Mistakes">What keeps it from being used, each with its mend; empty: it is sound.</param>
internal sealed record CaseCheckup(TrainingCase? Case, IReadOnlyList<ConfigurationMistake> Mistakes, RecordingCounts? Counts, Instant? First, Instant? Last)
{
    /// <param name="model">The causes and checks that a case may name.</param>
    public static CaseCheckup Of(string folder, CauseModel model)
    {
        var read = CaseFolder.Read(folder, model);
        var mistakes = read.Mistakes.ToList();
        mistakes.AddRange(OpenNotes(folder));
        if (read.Value is not { } its)
            return new(null, mistakes, null, null, null);

        var machines = new SortedSet<string>(StringComparer.Ordinal);
        Instant? first = null;
        Instant? last = null;
        try
        {
            using var reader = its.ReadRecording(new ChannelTable());
            while (reader.Read() is { } e)
            {
                if (e.Kind is RecordingEventKind.JobRecord or RecordingEventKind.Alarm)
                    continue;
                machines.Add(e.Machine);
                if (e.Kind != RecordingEventKind.Telemetry)
                    continue;
                first ??= e.At;
                last = e.At;
            }

            mistakes.AddRange(RecordingMistakes(folder, its, reader.Counts, machines, first, last));
            return new(its, mistakes, reader.Counts, first, last);
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException)
        {
            mistakes.Add(new(folder, "", 0, $"the recording cannot be read ({e.Message.TrimEnd('.')})", "write it again"));
            return new(its, mistakes, null, null, null);
        }
    }

    private static IEnumerable<ConfigurationMistake> RecordingMistakes(
        string folder, TrainingCase its, RecordingCounts counts, SortedSet<string> machines, Instant? first, Instant? last)
    {
        var sheet = Path.Combine(folder, CaseFolder.SheetFile);
        if (counts.Unread > 0)
            yield return new(folder, "", 0, $"the recording has {counts.Unread} line(s) that cannot be read: {counts.FirstUnread[0]}", "mend or take them out");
        if (first is not { } from || last is not { } to)
        {
            yield return new(folder, "", 0, "the recording has no samples", "put the right one there");
            yield break;
        }

        if (machines.Count > 1)
            yield return new(folder, "", 0, $"the recording holds several machines: {string.Join(", ", machines)}", "a case is of one machine: leave the others out");
        else if (!machines.Contains(its.Machine))
            yield return new(sheet, "machine", 0, $"'{its.Machine}' is not in the recording, which is of {machines.Min}", $"write \"{machines.Min}\"");
        foreach (var (member, at) in new[] { ("began", its.Began), ("watchFrom", its.WatchFrom) })
        {
            if (at is { } time && (time < from || time > to))
                yield return new(sheet, member, 0, $"{Rfc3339.Format(time)} is outside the recording", $"write a time from {Rfc3339.Format(from)} to {Rfc3339.Format(to)}");
        }
    }

    private static IEnumerable<ConfigurationMistake> OpenNotes(string folder)
    {
        var notes = Path.Combine(folder, CaseFolder.NotesFile);
        if (!File.Exists(notes))
            yield break; // told with the folder
        var number = 0;
        foreach (var line in File.ReadLines(notes))
        {
            number++;
            if (line.Contains(CaseSheet.ToFillIn + ":", StringComparison.Ordinal))
                yield return new(notes, "", number, "still to be filled in", line[(line.IndexOf(':', StringComparison.Ordinal) + 1)..].Trim());
        }
    }
}
