using LaserWatch.Recordings;

namespace LaserWatch.Proof;

/// <summary>What has become of a part of a sealed day.</summary>
internal enum PartChange
{
    None,

    /// <summary>More is there than was sealed, or a job record was put right: the day is sealed again, openly.</summary>
    Grown,

    /// <summary>Less is there than was sealed, or something else: never sealed again, so that it stays visible.</summary>
    Altered,
}

/// <summary>Compares what is there now with what was sealed, and says it in plain words.</summary>
internal static class DayComparison
{
    /// <param name="now">Samples by channel.</param>
    public static PartChange OfSamples(SealedTree then, IReadOnlyDictionary<string, long> now, out string words)
    {
        var lost = then.Counts.Where(count => now.GetValueOrDefault(count.Key) < count.Value)
            .Select(count => $"{count.Value - now.GetValueOrDefault(count.Key)} of {count.Key}").ToList();
        if (lost.Count > 0)
        {
            words = "samples are missing that were sealed: " + string.Join(", ", lost);
            return PartChange.Altered;
        }

        var more = now.Sum(count => Math.Max(0, count.Value - then.Count(count.Key)));
        words = $"{more} sample(s) came after the day was sealed";
        return more > 0 ? PartChange.Grown : PartChange.None;
    }

    public static PartChange OfEvents(SealedTree then, SealedTree now, out string words)
    {
        words = "";
        if (then.Root == now.Root)
            return PartChange.None;
        var fewer = then.Counts.Where(count => now.Count(count.Key) < count.Value).Select(count => $"{count.Value - now.Count(count.Key)} {count.Key}").ToList();
        if (fewer.Count > 0 || now.Leaves == then.Leaves)
        {
            words = fewer.Count > 0 ? "events are missing that were sealed: " + string.Join(", ", fewer) : "an event is not as it was sealed";
            return PartChange.Altered;
        }

        words = $"{now.Leaves - then.Leaves} event(s) came after the day was sealed";
        return PartChange.Grown;
    }

    /// <remarks>A job record of the same job and time is put in the place of the one before; that is the shop's own right, and told.</remarks>
    public static PartChange OfRecords(SealedTree then, SealedTree now, out string words)
    {
        words = "";
        if (then.Root == now.Root)
            return PartChange.None;
        if (now.Leaves < then.Leaves)
        {
            words = $"{then.Leaves - now.Leaves} {EventLines.JobRecordName} are missing that were sealed";
            return PartChange.Altered;
        }

        words = now.Leaves > then.Leaves ? $"{now.Leaves - then.Leaves} job record(s) came after the day was sealed" : "a job record was changed after the day was sealed";
        return PartChange.Grown;
    }
}
