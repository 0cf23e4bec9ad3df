using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>An event leaf with the line of the file that it stood on; 0 for one of the proof's own rest lines.</summary>
internal sealed record PlacedLeaf(EventLeaf Leaf, string Measurement, long Line);

/// <summary>Holds the leaves that a file has of a day against what its proof lists, and names what differs.</summary>
internal static class DayVerification
{
    /// <summary>Adds what differs among the samples.</summary>
    /// <returns>True where the day's samples are those that were sealed.</returns>
    public static bool CompareSamples(DayEntry entry, ProofRange range, LeafList list, IReadOnlyList<SampleLeaf> leaves, List<Finding> findings)
    {
        var before = findings.Count;
        var (i, j) = (0, 0);
        while (i < list.Samples.Count || j < leaves.Count)
        {
            var order = i == list.Samples.Count ? 1 : j == leaves.Count ? -1 : Order(list.Samples[i], leaves[j]);
            if (order < 0)
            {
                var (minute, channel, count, _) = list.Samples[i++];
                findings.Add(Of(minute, channel, FindingKinds.Missing, $"all {count} sample(s) of the minute are missing"));
            }
            else if (order > 0)
            {
                var leaf = leaves[j++];
                findings.Add(Of(leaf.Minute, leaf.Channel.Name, FindingKinds.Added, $"{leaf.Count} sample(s) were added; none was sealed in this minute"));
            }
            else
            {
                Compare(list.Samples[i++], leaves[j++], findings);
            }
        }

        if (findings.Count > before)
            return false;
        if (range.Leads(StoredDay.HashesOf(leaves), entry.Samples))
            return true;
        findings.Add(new Finding(
            entry.Day, null, null, FindingKinds.Altered,
            "the samples are not those that were sealed, but where they differ cannot be told: they differed in the store when the file was written, or its proof was altered with them"));
        return false;
    }

    /// <summary>Adds what differs among the events, or among the job records.</summary>
    public static bool CompareEvents(
        DateOnly day, SealedTree tree, ProofRange range, List<ListedEvent> listed, IReadOnlyList<PlacedLeaf> leaves, List<Finding> findings)
    {
        var before = findings.Count;
        var missing = listed.GroupBy(leaf => leaf.At).ToDictionary(group => group.Key, group => group.Select(leaf => leaf.HashStart).ToList());
        var added = leaves.Where(leaf => !(missing.TryGetValue(leaf.Leaf.At, out var hashes) && hashes.Remove(LeafList.HashStart(leaf.Leaf.Hash)))).ToList();
        foreach (var leaf in added)
        {
            var altered = missing.TryGetValue(leaf.Leaf.At, out var hashes) && hashes.Count > 0;
            if (altered)
                hashes!.RemoveAt(0);
            findings.Add(new Finding(
                day, Rfc3339.Format(leaf.Leaf.At), null, altered ? FindingKinds.Altered : FindingKinds.Added,
                altered ? $"this {leaf.Measurement} is not the event that was sealed at that time" : $"this {leaf.Measurement} was added, or its time was altered; none was sealed so",
                leaf.Line, leaf.Line));
        }

        foreach (var (at, hashes) in missing.OrderBy(entry => entry.Key))
        {
            if (hashes.Count > 0)
                findings.Add(new Finding(day, Rfc3339.Format(at), null, FindingKinds.Missing, $"{hashes.Count} event(s) that were sealed at that time are missing"));
        }

        if (findings.Count > before)
            return false;
        if (range.Leads([.. leaves.Select(leaf => leaf.Leaf.Hash)], tree))
            return true;
        findings.Add(new Finding(
            day, null, null, FindingKinds.Altered,
            "the events are not those that were sealed, but which differs cannot be told: it differed in the store when the file was written, or the proof was altered with it"));
        return false;
    }

    public static string MinuteText(long minute) => Rfc3339.Format(TimeGrid.StartOfMinute(minute));

    private static int Order(ListedSamples listed, SampleLeaf leaf)
    {
        var byMinute = listed.Minute.CompareTo(leaf.Minute);
        return byMinute != 0 ? byMinute : string.CompareOrdinal(listed.Channel, leaf.Channel.Name);
    }

    private static void Compare(ListedSamples listed, SampleLeaf leaf, List<Finding> findings)
    {
        var now = LeafList.CountOf(leaf.Count);
        var words = (now - listed.Count) switch
        {
            < 0 and var fewer => (FindingKinds.Missing, string.Create(CultureInfo.InvariantCulture, $"{-fewer} of the {listed.Count} samples that were sealed are missing")),
            > 0 and var more => (FindingKinds.Added, string.Create(CultureInfo.InvariantCulture, $"{more} sample(s) were added to the {listed.Count} that were sealed")),
            _ => (FindingKinds.Altered, $"as many samples as were sealed, {listed.Count}, but a value or a time was altered"),
        };
        if (now != listed.Count || LeafList.HashStart(leaf.Hash) != listed.HashStart)
            findings.Add(Of(leaf.Minute, leaf.Channel.Name, words.Item1, words.Item2));
    }

    private static Finding Of(long minute, string channel, string what, string words) =>
        new(UtcDay.OfMinute(minute), MinuteText(minute), channel, what, words);
}
