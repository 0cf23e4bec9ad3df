using LaserWatch.Monitoring;

namespace LaserWatch.Jobs;

/// <summary>How often runs at a record's own power were that job as recorded, and how often something else.</summary>
internal sealed class MatchHistory
{
    private const int LeastFits = 2;
    private const int FitsForEachMiss = 5;
    private const int MostJobs = 200;

    private readonly List<Entry> _entries = [];

    /// <summary>The power has meant this job before, and hardly ever another.</summary>
    public bool Trusts(string job) => _entries.Find(e => e.Job == job) is { } entry
        && entry.Fits >= LeastFits && entry.Fits >= FitsForEachMiss * entry.Misses;

    public void Fitted(string job)
    {
        if (Of(job) is { } entry)
            entry.Fits++;
    }

    public void Missed(string job)
    {
        if (Of(job) is { } entry)
            entry.Misses++;
    }

    public void Visit(StateVisitor state) => state.Walk(_entries, () => new Entry(), entry =>
    {
        state.Walk(ref entry.Job);
        state.Walk(ref entry.Fits);
        state.Walk(ref entry.Misses);
    });

    private Entry? Of(string job)
    {
        var entry = _entries.Find(e => e.Job == job);
        if (entry is null && _entries.Count < MostJobs)
            _entries.Add(entry = new Entry { Job = job });
        return entry;
    }

    private sealed class Entry
    {
        public string? Job;
        public int Fits;
        public int Misses;
    }
}
