using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

internal sealed partial class OutboxLedger
{
    private static readonly TimeSpan SettlingTime = TimeSpan.FromMinutes(1);

    /// <summary>Begins, goes on with or ends the telling further of an alarm that nobody answers.</summary>
    /// <returns>Outlets that were told further: they are told how it goes on.</returns>
    private List<string> FollowUnanswered(Taken taken, Taken? before, Instant now)
    {
        var change = taken.Change;
        if (AlarmTransitions.IsAttendedTo(change))
        {
            var told = ToldFurther(change);
            Prepare("DELETE FROM unanswered WHERE machine = ?1 AND condition = ?2 AND (sent = 0 OR ?3)")
                .Bind(1, change.Machine).Bind(2, change.Condition).Bind(3, AlarmTransitions.IsOver(change) ? 1 : 0).Run();
            return told;
        }

        if (before is not null && AlarmTransitions.IsAttendedTo(before.Change))
            Prepare("DELETE FROM unanswered WHERE machine = ?1 AND condition = ?2").Bind(1, change.Machine).Bind(2, change.Condition).Run();
        for (var step = 0; step < _router.IfUnanswered.Count; step++)
        {
            if (change.Priority < _router.IfUnanswered[step].AtLeast)
                continue;

            // Where it only got worse the time runs from when it began; since when nobody came is what counts.
            Prepare("""
                INSERT INTO unanswered (machine, condition, step, change_seq, due) VALUES (?1, ?2, ?3, ?4, ?5)
                ON CONFLICT DO UPDATE SET change_seq = excluded.change_seq WHERE sent = 0
                """)
                .Bind(1, change.Machine).Bind(2, change.Condition).Bind(3, step + 1).Bind(4, taken.Seq)
                .Bind(5, (now + _router.IfUnanswered[step].After).UnixNanoseconds).Run();
        }

        return [];
    }

    private void TellFurtherWhatIsDue(Instant now)
    {
        var due = new List<(string Machine, string Condition, int Step, long Change, Instant Due)>();
        var rows = Prepare("SELECT machine, condition, step, change_seq, due FROM unanswered WHERE sent = 0 AND due <= ?1 ORDER BY due, step").Bind(1, now.UnixNanoseconds);
        while (rows.Step())
            due.Add((rows.Text(0), rows.Text(1), (int)rows.Int64(2), rows.Int64(3), new Instant(rows.Int64(4))));

        foreach (var (machine, condition, step, seq, at) in due)
        {
            Prepare("UPDATE unanswered SET sent = 1 WHERE machine = ?1 AND condition = ?2 AND step = ?3").Bind(1, machine).Bind(2, condition).Bind(3, step).Run();
            var taken = BySeq(seq);
            foreach (var outlet in OutletsOf(step).Where(o => _router.Concerns(o, taken.Change)))
                Tell(outlet, taken, step, taken.Change.Priority, at, now);
        }
    }

    // What came due while nobody ran may be over by now; the samples that say so come within moments.
    private void PutOffUnanswered(Instant now)
    {
        var soonest = (now + SettlingTime).UnixNanoseconds;
        Prepare("UPDATE unanswered SET due = ?1 WHERE sent = 0 AND due < ?1").Bind(1, soonest).Run();
    }

    private List<string> ToldFurther(AlarmChange change)
    {
        var steps = new List<(int Step, long Change)>();
        var rows = Prepare("SELECT step, change_seq FROM unanswered WHERE machine = ?1 AND condition = ?2 AND sent = 1").Bind(1, change.Machine).Bind(2, change.Condition);
        while (rows.Step())
            steps.Add(((int)rows.Int64(0), rows.Int64(1)));
        return [.. steps.SelectMany(s => OutletsOf(s.Step).Where(outlet => WasTold(outlet, s.Change, s.Step))).Distinct()];
    }

    // What is still held need not be told how it goes on.
    private bool WasTold(string outlet, long change, int step) =>
        Prepare("SELECT 1 FROM item WHERE outlet = ?1 AND change_seq = ?2 AND step = ?3 AND message > 0").Bind(1, outlet).Bind(2, change).Bind(3, step).RunForInt64() is not null;

    // The configuration may have lost steps and outlets since.
    private IEnumerable<string> OutletsOf(int step) =>
        step <= _router.IfUnanswered.Count ? _router.IfUnanswered[step - 1].To.Where(_router.Has) : [];

    /// <summary>What was told and never found again was lost with a process; nobody could acknowledge it, so it must not go further.</summary>
    private void ForgetOrphans(Instant now)
    {
        if (_orphans.Count == 0 || now < _orphansUntil)
            return;
        foreach (var (machine, condition) in _orphans.Where(o => o.Value.Count > 0).Select(o => o.Key))
            Prepare("DELETE FROM unanswered WHERE machine = ?1 AND condition = ?2 AND sent = 0").Bind(1, machine).Bind(2, condition).Run();
        _orphans.Clear();
    }
}
