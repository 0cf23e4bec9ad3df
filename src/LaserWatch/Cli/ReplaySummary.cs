using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Recordings;

namespace LaserWatch.Cli;

/// <summary>What a replay has played and found, in a few lines.</summary>
internal static class ReplaySummary
{
    public static void Print(Replay replay, AlarmTally tally, TimeSpan took, TextWriter output, bool terminal)
    {
        var counts = replay.Counts;
        var rate = counts.Samples / Math.Max(took.TotalSeconds, 1e-9);
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"samples   {counts.Samples} of {replay.Machines.Count} machine(s), in {took.TotalSeconds:0.00} s: {rate:0} a second"));
        if (replay.First is { } first && replay.Last is { } last)
            output.WriteLine($"span      {Rfc3339.Format(first)} to {Rfc3339.Format(last)} ({Span(last - first)})");
        output.WriteLine($"events    {counts.JobRuns} job run(s), {counts.JobRecords} job record(s), {counts.ServiceEvents} service event(s); {replay.InferredRuns} run(s) worked out");
        if (counts.AlarmLines > 0)
            output.WriteLine($"told then {counts.AlarmLines} alarm transition(s) stand in the recording; they are not judged");
        PrintLeftOut(replay, output);

        var listing = new Listing("machine", "condition", "priority", "raised", "first", "at the end");
        foreach (var line in tally.Lines)
        {
            var firstTime = line.FirstRaised is { } raised ? Rfc3339.Format(raised.Time) : "";
            listing.Row(
                line.Machine, line.Condition, line.Highest.Name(), line.Raised.ToString(CultureInfo.InvariantCulture), firstTime, line.State.Name());
        }

        if (listing.IsEmpty)
            output.WriteLine("alarms    none");
        else
            listing.Print(output, terminal);
    }

    private static void PrintLeftOut(Replay replay, TextWriter output)
    {
        var counts = replay.Counts;
        List<string> parts = [];
        Add(counts.Unread, "line(s) not read");
        Add(counts.UnknownMeasurements, "line(s) of other measurements");
        Add(counts.NotNumbers, "telemetry field(s) that are no numbers");
        Add(counts.UnknownChannels, "telemetry field(s) of no channel");
        Add(counts.OutOfOrder, "line(s) out of order");
        Add(replay.NotWatched, "sample(s) and event(s) of too many machines");
        foreach (var (reason, count) in replay.Machines
            .SelectMany(machine => machine.Status.NotJudged)
            .GroupBy(pair => pair.Key, pair => pair.Value, StringComparer.Ordinal)
            .OrderBy(group => group.Key, StringComparer.Ordinal)
            .Select(group => (group.Key, group.Sum())))
        {
            Add(count, "not judged: " + reason);
        }

        if (parts.Count > 0)
            output.WriteLine("left out  " + string.Join(", ", parts));

        void Add(long count, string what)
        {
            if (count > 0)
                parts.Add($"{count} {what}");
        }
    }

    private static string Span(TimeSpan span) => span.TotalDays >= 2
        ? string.Create(CultureInfo.InvariantCulture, $"{span.TotalDays:0.0} days")
        : string.Create(CultureInfo.InvariantCulture, $"{(int)span.TotalHours}:{span.Minutes:00}:{span.Seconds:00}");
}
