using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

/// <summary>The recorded values of every job; of several records of one job, the newest is in force.</summary>
public sealed class JobBook
{
    private readonly Dictionary<string, List<JobRecord>> _byJob = new(StringComparer.Ordinal);

    // Asked for with every sample of a run that fits none of them, and made anew only after a change.
    private JobRecord[]? _inForce;

    public int Count => _byJob.Count;

    /// <summary>The records in force now, one a job, in no order that means anything.</summary>
    public IReadOnlyList<JobRecord> InForce => _inForce ??= [.. _byJob.Values.Select(records => records[^1])];

    /// <summary>Adds a record; the same one twice is one.</summary>
    public void Add(JobRecord record)
    {
        _inForce = null;
        if (!_byJob.TryGetValue(record.Job, out var records))
            _byJob.Add(record.Job, records = []);
        var place = records.FindLastIndex(r => r.RecordedAt <= record.RecordedAt) + 1;
        if (place > 0 && records[place - 1].RecordedAt == record.RecordedAt)
            records[place - 1] = record;
        else
            records.Insert(place, record);
    }

    /// <summary>The record in force at a time: the newest not after it, or the oldest where all are after.</summary>
    public JobRecord? Find(string job, Instant at)
    {
        if (!_byJob.TryGetValue(job, out var records))
            return null;
        return records.FindLast(r => r.RecordedAt <= at) ?? records[0];
    }
}
