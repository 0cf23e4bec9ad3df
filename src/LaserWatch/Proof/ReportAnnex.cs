using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Recordings;
using LaserWatch.Reports;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>What a report carries to be checked by: an excerpt of raw samples with its proof, and the whole log.</summary>
/// <param name="Lines">A recording of single minutes with its proof, as <see cref="RecordingVerifier"/> reads it; empty where there is no log.</param>
internal sealed record ReportAnnex(string Lines, IntegrityFacts Facts)
{
    /// <summary>Days whose minutes stand in a page: enough to show, and few enough to send by mail.</summary>
    private const int MostDays = 60;

    /// <param name="estimated">The days with an estimate of the current, rising.</param>
    /// <exception cref="EvidenceException">The log cannot be read.</exception>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public static async Task<ReportAnnex> GatherAsync(
        ITelemetryStore store, EvidenceFolder folder, string machine, IReadOnlyList<DateOnly> estimated, Instant from, Instant to, CancellationToken stop)
    {
        var log = EvidenceLog.Read(folder, machine).Content;
        if (log.Head is not { } head)
            return new("", new IntegrityFacts(0, null, null, null, null));

        var reported = log.Newest.Values.Where(entry => UtcDay.Start(entry.Day) < to && UtcDay.End(entry.Day) > from).OrderBy(entry => entry.Day).ToList();
        var shown = Spread([.. estimated.Where(day => log.Newest.TryGetValue(day, out var entry) && entry.Samples.Leaves > 0)]);
        var lines = new LineFormatter();
        var proof = new ProofWriter();
        proof.Begin(machine, ProofContents.Excerpt);
        List<DateOnly> there = [], differing = [];
        foreach (var day in shown)
        {
            var excerpt = new DayExcerpt(machine, log.Newest[day]);
            if (await excerpt.ReadAsync(store, stop).ConfigureAwait(false))
            {
                excerpt.Write(lines, proof);
                there.Add(day);
            }
            else
            {
                differing.Add(day);
            }
        }

        proof.LogAndEnd(log);
        return new(
            Encoding.UTF8.GetString(lines.Written) + Encoding.UTF8.GetString(proof.Take()),
            new IntegrityFacts(log.Entries.Count, head.Root.ToString(), head.At, head.Fingerprint(), StampOf(log))
            {
                SealedDays = reported.Count,
                FirstSealed = reported.FirstOrDefault()?.Day,
                LastSealed = reported.LastOrDefault()?.Day,
                UnsealedDays = estimated.Count(day => !log.Newest.ContainsKey(day)),
                Revised = [.. reported.Where(entry => entry.Revision > 0).Select(entry => new RevisedDay(entry.Day, entry.Revision, entry.Why ?? ""))],
                AnnexDays = there,
                Differing = differing,
            });
    }

    private static string? StampOf(LogContent log)
    {
        var line = log.Heads[^1].Line;
        if (log.StampOf(line) is not { } stamp || !LogJson.TryBase64(stamp.Token, out var token))
            return null;
        var found = TimestampCheck.Check(token, Encoding.UTF8.GetBytes(line), null);
        return found is { Wrong: null, At: { } at } ? Rfc3339.Format(at) : null;
    }

    /// <summary>Evenly spread, the first and the last among them.</summary>
    private static IEnumerable<DateOnly> Spread(IReadOnlyList<DateOnly> days)
    {
        var count = Math.Min(days.Count, MostDays);
        for (var i = 0; i < count; i++)
            yield return days[count == 1 ? 0 : (int)((long)i * (days.Count - 1) / (count - 1))];
    }
}
