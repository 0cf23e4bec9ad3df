using LaserWatch.Rules;

namespace LaserWatch.Proof;

/// <summary>Checks that the days a recording covers have no hole, as those of an excerpt may: nothing that was sealed may be left out in between.</summary>
internal static class CoverageCheck
{
    public static void Check(ProofReading proof, VerificationReport report)
    {
        var known = new HashSet<DateOnly>();
        foreach (var day in proof.Days)
        {
            if (!known.Add(day.Entry.Day))
                report.Add(Of(day.Entry, "the proof has this day twice", day.Line));
            var newest = proof.Log.Newest[day.Entry.Day];
            if (newest.Number != day.Entry.Number)
                report.Add(Of(day.Entry, $"the proof is of the log's entry {day.Entry.Number}, which entry {newest.Number} replaced ({newest.Why})", day.Line));
            CheckBounds(day, report);
        }

        var sampled = proof.Days.Where(day => day.Proof.Samples.Count > 0).ToList();
        if (sampled.Count == 0)
            return;
        (report.FirstDay, report.LastDay) = (sampled[0].Entry.Day, sampled[^1].Entry.Day);
        if (proof.Content != ProofContents.Recording)
            return;
        foreach (var entry in proof.Log.Newest.Values.Where(entry => entry.Day >= report.FirstDay && entry.Day <= report.LastDay && !known.Contains(entry.Day)))
            report.Add(new Finding(entry.Day, null, null, FindingKinds.Missing, "this day was sealed, and days before and after it stand here, but it was taken out"));
        foreach (var day in proof.Days.Where(day => day.Entry.Day >= report.FirstDay && day.Entry.Day <= report.LastDay))
            CheckWhole(day, report);
        NoteRest(proof, report);
    }

    private static void CheckBounds(ProvenDay day, VerificationReport report)
    {
        foreach (var (range, tree) in Parts(day))
        {
            if (range.First < 0 || range.Last < range.First || range.Last > tree.Leaves)
                report.Add(Of(day.Entry, "the proof speaks of leaves that the day does not have", day.Line));
        }
    }

    private static void CheckWhole(ProvenDay day, VerificationReport report)
    {
        var (entry, proof) = (day.Entry, day.Proof);
        if (entry.Day != report.FirstDay && proof.Samples.First > 0)
            report.Add(Of(entry, $"the first {proof.Samples.First} minute leaves of samples were left out, though the day before stands here"));
        if (entry.Day != report.LastDay && proof.Samples.Last < entry.Samples.Leaves)
            report.Add(Of(entry, $"the last {entry.Samples.Leaves - proof.Samples.Last} minute leaves of samples were left out, though the day after stands here"));
        if (proof.Events.Count != entry.Events.Leaves || proof.Records.Count != entry.Records.Leaves)
            report.Add(Of(entry, "events of the day were left out"));
    }

    private static void NoteRest(ProofReading proof, VerificationReport report)
    {
        var (before, after) = (proof.Log.Newest.Keys.Count(day => day < report.FirstDay), proof.Log.Newest.Keys.Count(day => day > report.LastDay));
        if (before + after > 0)
            report.Notes.Add($"The log has {before} sealed day(s) before and {after} after those whose samples stand here.");
    }

    private static IEnumerable<(ProofRange Range, SealedTree Tree)> Parts(ProvenDay day) =>
        [(day.Proof.Samples, day.Entry.Samples), (day.Proof.Events, day.Entry.Events), (day.Proof.Records, day.Entry.Records)];

    private static Finding Of(DayEntry entry, string words, long? line = null) => new(entry.Day, null, null, FindingKinds.Proof, words, line, line);
}
