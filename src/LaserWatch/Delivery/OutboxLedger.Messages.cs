using LaserWatch.Alarms;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>A message that waits for its outlet.</summary>
internal readonly record struct WaitingMessage(long Seq, AlarmMessage Message);

/// <summary>What became of a message.</summary>
internal enum Settlement
{
    Delivered = 1,

    /// <summary>The outlet will never take it.</summary>
    Refused = 2,

    /// <summary>It waited longer than messages are kept.</summary>
    GivenUp = 3,

    /// <summary>Its outlet is not configured any more.</summary>
    WithoutOutlet = 4,
}

internal sealed partial class OutboxLedger
{
    private const int InFlood = 2;

    /// <summary>Makes messages of what is due, and says when the next thing will be; null: nothing is held.</summary>
    public Instant? BringDue(Instant now)
    {
        Instant? next = null;
        InTransaction(() =>
        {
            ForgetOrphans(now);
            NoteFlood(_flood.Tick(now));
            TellFurtherWhatIsDue(now);
            foreach (var outlet in _router.Outlets)
                Gather(outlet, now);
            if (Prepare("SELECT min(due) FROM (SELECT min(due) AS due FROM item WHERE message IS NULL UNION ALL SELECT min(due) FROM unanswered WHERE sent = 0)").RunForInt64() is { } due)
                next = new Instant(due);
        });
        return next;
    }

    /// <summary>The oldest message that waits for the outlet, as it is to be told now; null where none does.</summary>
    public WaitingMessage? Next(string outlet, Instant now)
    {
        lock (_lock)
        {
            var row = Prepare("SELECT seq, id, cause, step, due FROM message WHERE outlet = ?1 AND state = 0 ORDER BY seq LIMIT 1").Bind(1, outlet);
            if (!row.Step())
                return null;
            var (seq, id, cause, step, due) = (row.Int64(0), row.Text(1), (MessageCause)row.Int64(2), (int)row.Int64(3), new Instant(row.Int64(4)));
            row.Reset();

            TimeSpan? after = step > 0 && step <= _router.IfUnanswered.Count ? _router.IfUnanswered[step - 1].After : null;
            return new(seq, new(id, cause, Entries(seq), due, now - due > _router.LateAfter, after));
        }
    }

    public void Settle(long message, Settlement settlement, string? why, Instant now) => InTransaction(() =>
        Prepare("UPDATE message SET state = ?2, settled_at = ?3, why = ?4 WHERE seq = ?1")
            .Bind(1, message).Bind(2, (long)settlement).Bind(3, now.UnixNanoseconds).Bind(4, why).Run());

    /// <summary>Messages that wait for the outlet, and changes held for it.</summary>
    public (int Waiting, int Held) Count(string outlet)
    {
        lock (_lock)
        {
            var waiting = Prepare("SELECT count(*) FROM message WHERE outlet = ?1 AND state = 0").Bind(1, outlet).RunForInt64();
            var held = Prepare("SELECT count(*) FROM item WHERE outlet = ?1 AND message IS NULL").Bind(1, outlet).RunForInt64();
            return ((int)waiting!, (int)held!);
        }
    }

    /// <summary>Sets aside what waits for outlets that the configuration no longer names; how much, by outlet.</summary>
    public IReadOnlyList<(string Outlet, long Count)> DropUnknownOutlets(Instant now)
    {
        var dropped = new List<(string, long)>();
        InTransaction(() =>
        {
            var names = new List<string>();
            var rows = Prepare("SELECT outlet FROM message WHERE state = 0 UNION SELECT outlet FROM item WHERE message IS NULL");
            while (rows.Step())
                names.Add(rows.Text(0));
            foreach (var outlet in names.Where(n => !_router.Has(n)))
            {
                var count = Prepare("UPDATE message SET state = 4, settled_at = ?2 WHERE outlet = ?1 AND state = 0").Bind(1, outlet).Bind(2, now.UnixNanoseconds).Run();
                count += Prepare("UPDATE item SET message = 0 WHERE outlet = ?1 AND message IS NULL").Bind(1, outlet).Run();
                dropped.Add((outlet, count));
            }
        });
        return dropped;
    }

    /// <summary>Forgets what was settled, and what was taken, longer ago than is kept; of each alarm the newest stays.</summary>
    public void Forget(Instant now) => InTransaction(() =>
    {
        var before = (now - _router.Keep).UnixNanoseconds;
        Prepare("DELETE FROM item WHERE message IN (SELECT seq FROM message WHERE state <> 0 AND settled_at < ?1)").Bind(1, before).Run();
        Prepare("DELETE FROM message WHERE state <> 0 AND settled_at < ?1").Bind(1, before).Run();
        Prepare("DELETE FROM item WHERE message = 0 AND due < ?1").Bind(1, before).Run();
        Prepare("""
            DELETE FROM taken WHERE taken_at < ?1 AND ts < ?1
              AND NOT EXISTS (SELECT 1 FROM item WHERE item.change_seq = taken.seq)
              AND NOT EXISTS (SELECT 1 FROM unanswered WHERE unanswered.change_seq = taken.seq)
              AND (same_as IS NOT NULL OR EXISTS (SELECT 1 FROM taken AS later
                WHERE later.machine = taken.machine AND later.condition = taken.condition AND later.same_as IS NULL AND later.seq > taken.seq))
            """).Bind(1, before).Run();
    });

    private void Route(Taken taken, AlarmTransition transition, IReadOnlyCollection<string> toldFurther, Instant now)
    {
        // An end is told where the alarm was, though it may bear a lower priority than that.
        var priority = taken.Change.Priority;
        if (transition != AlarmTransition.Raised && RaisedBy(taken) is { } raised && raised.Change.Priority > priority)
            priority = raised.Change.Priority;
        foreach (var outlet in _router.Outlets)
        {
            if (_router.Wants(outlet, taken.Change, transition, priority) || toldFurther.Contains(outlet))
                Tell(outlet, taken, step: 0, priority, taken.Change.Time, now, IsGrouped(outlet, taken.Change, transition));
        }
    }

    /// <summary>
    /// In a flood only what is urgent goes at once, and the first root cause of each kind: the same trouble at ten machines is one
    /// piece of news. Everything else is told together.
    /// </summary>
    private bool IsGrouped(string outlet, AlarmChange change, AlarmTransition transition)
    {
        if (!_flood.InFlood)
            return false;
        if (transition != AlarmTransition.Raised)
            return true;
        if (change.Priority == AlarmPriority.Urgent)
            return false;
        return !_flood.IsRoot(change) || !_rootsTold.Add((outlet, change.Condition));
    }

    /// <summary>Gives the outlet a change: at once, or held.</summary>
    private void Tell(string outlet, Taken taken, int step, AlarmPriority priority, Instant due, Instant now, bool isGrouped = false)
    {
        var held = _router.HeldUntil(outlet, priority, now, mayWait: step == 0);
        if (held is null && isGrouped)
            held = EndOfFloodInterval(outlet, now);
        var added = Prepare("INSERT OR IGNORE INTO item (outlet, change_seq, step, due, held) VALUES (?1, ?2, ?3, ?4, ?5)")
            .Bind(1, outlet).Bind(2, taken.Seq).Bind(3, step).Bind(4, (held ?? due).UnixNanoseconds).Bind(5, held is null ? 0 : isGrouped ? InFlood : 1).Run();
        if (added == 0 || held is not null)
            return;

        // What was held of the same alarm is told with it, and by it.
        var items = Items("""
            SELECT item.id, item.change_seq, item.step, item.due FROM item JOIN taken ON taken.seq = item.change_seq
            WHERE item.outlet = ?1 AND item.message IS NULL AND taken.machine = ?2 AND taken.condition = ?3 ORDER BY item.change_seq
            """, s => s.Bind(1, outlet).Bind(2, taken.Change.Machine).Bind(3, taken.Change.Condition));
        Send(outlet, step > 0 ? MessageCause.Unanswered : MessageCause.News, step, items, [taken.Id], due);
    }

    private Instant EndOfFloodInterval(string outlet, Instant now) =>
        Prepare("SELECT min(due) FROM item WHERE outlet = ?1 AND message IS NULL AND held = 2").Bind(1, outlet).RunForInt64() is { } due
            ? new Instant(due)
            : now + _router.FloodInterval;

    /// <summary>Makes one message of all that was held for the outlet until now.</summary>
    private void Gather(string outlet, Instant now)
    {
        var items = Items(
            "SELECT id, change_seq, step, due FROM item WHERE outlet = ?1 AND message IS NULL AND due <= ?2 ORDER BY change_seq",
            s => s.Bind(1, outlet).Bind(2, now.UnixNanoseconds));
        if (items.Count == 0)
            return;

        var told = new List<string>();
        var sent = new List<Item>();
        foreach (var alarm in items.Select(i => (Item: i, Taken: BySeq(i.ChangeSeq))).GroupBy(i => (i.Taken.Change.Machine, i.Taken.Change.Condition)).ToList())
        {
            var newest = Newest(alarm.Key.Machine, alarm.Key.Condition)!;
            if (alarm.All(i => i.Item.Step > 0) && AlarmTransitions.IsAttendedTo(newest.Change))
            {
                // Nobody there was told of it, and nobody needs to be any more.
                foreach (var (item, _) in alarm)
                    Assign(item.Id, 0);
                continue;
            }

            sent.AddRange(alarm.Select(i => i.Item));
            told.Add(newest.Id);
            if (alarm.All(i => i.Taken.Seq != newest.Seq) && newest.Transition is not null)
            {
                Prepare("INSERT OR IGNORE INTO item (outlet, change_seq, step, due, held) VALUES (?1, ?2, 0, ?3, 1)")
                    .Bind(1, outlet).Bind(2, newest.Seq).Bind(3, now.UnixNanoseconds).Run();
                sent.AddRange(Items("SELECT id, change_seq, step, due FROM item WHERE outlet = ?1 AND change_seq = ?2 AND message IS NULL", s => s.Bind(1, outlet).Bind(2, newest.Seq)));
            }
        }

        if (sent.Count == 0)
            return;
        var cause = told.Count > 1 ? MessageCause.Gathered : sent.All(i => i.Step > 0) ? MessageCause.Unanswered : MessageCause.News;
        Send(outlet, cause, sent.Max(i => i.Step), sent, told, new Instant(sent.Max(i => i.Due)));
    }

    private void Send(string outlet, MessageCause cause, int step, IReadOnlyList<Item> items, IReadOnlyList<string> told, Instant due)
    {
        var insert = Prepare("INSERT OR IGNORE INTO message (id, outlet, cause, step, due) VALUES (?1, ?2, ?3, ?4, ?5) RETURNING seq")
            .Bind(1, AlarmMessage.IdOf(cause, outlet, step, told)).Bind(2, outlet).Bind(3, (long)cause).Bind(4, step).Bind(5, due.UnixNanoseconds);
        var message = 0L; // the very message was made before
        while (insert.Step())
            message = insert.Int64(0);
        foreach (var item in items)
            Assign(item.Id, message);
    }

    private void Assign(long item, long message) =>
        Prepare("UPDATE item SET message = ?2 WHERE id = ?1").Bind(1, item).Bind(2, message).Run();

    private List<AlarmEntry> Entries(long message)
    {
        var changes = Read(
            "SELECT DISTINCT taken.seq, taken.id, taken.transition, taken.json FROM item JOIN taken ON taken.seq = item.change_seq WHERE item.message = ?1 ORDER BY taken.seq",
            s => s.Bind(1, message));
        var entries = new List<AlarmEntry>();
        foreach (var alarm in changes.GroupBy(c => (c.Change.Machine, c.Change.Condition)))
        {
            var told = alarm.Last();
            var raised = RaisedBy(told);
            var newest = Newest(alarm.Key.Machine, alarm.Key.Condition)!;
            entries.Add(new(
                told.Change, told.Transition ?? AlarmTransition.Raised, raised?.Seq == told.Seq ? null : raised?.Change,
                newest.Seq > told.Seq ? newest.Change : null, [.. alarm.Where(c => c.Seq != told.Seq).Select(c => c.Id)]));
        }

        if (entries.Count == 1)
            return entries;
        var order = AlarmOrder.RootsFirst(entries.Select(e => e.Change)).Select(placed => placed.Change).ToList();
        return [.. entries.OrderBy(e => order.IndexOf(e.Change))];
    }

    private Taken BySeq(long seq) => ReadOne("SELECT seq, id, transition, json FROM taken WHERE seq = ?1", s => s.Bind(1, seq))!;

    private List<Item> Items(string sql, Action<Statement> bind)
    {
        var statement = Prepare(sql);
        bind(statement);
        var items = new List<Item>();
        while (statement.Step())
            items.Add(new(statement.Int64(0), statement.Int64(1), (int)statement.Int64(2), statement.Int64(3)));
        return items;
    }

    private readonly record struct Item(long Id, long ChangeSeq, int Step, long Due);
}
