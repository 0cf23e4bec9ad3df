using LaserWatch.Alarms;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Delivery;

/// <summary>Where a change that is offered to the outbox comes from.</summary>
internal enum ChangeOrigin
{
    /// <summary>The watch has just found it.</summary>
    Live,

    /// <summary>The watch found it while it was shown, after a restart, what was stored before.</summary>
    FoundAgain,

    /// <summary>The store holds it, and the outbox never saw it: the last process died between the two.</summary>
    Missed,
}

/// <summary>The outbox on the disk: what was taken, what waits for whom, what was delivered.</summary>
/// <remarks>
/// Each method is one transaction, and waits for the disk: not for the pipeline's thread. Safe for several threads.
/// Grouping is one mechanism: a change that an outlet is spared for now is an item without a message, with the time until which it is
/// held, whatever the reason; what is due is told in one message, each alarm once, as it stands then.
/// </remarks>
internal sealed partial class OutboxLedger : IDisposable
{
    // A change that a restarted watch finds anew by its ticks bears another second than the one that was told.
    private static readonly TimeSpan Apart = TimeSpan.FromSeconds(10);

    // How long after a start a change may still be the one that was told before, and that the store does not know.
    private static readonly TimeSpan FindAgainWithin = TimeSpan.FromMinutes(5);

    private readonly SqliteConnection _connection;
    private readonly DeliveryRouter _router;
    private readonly Lock _lock = new();
    private readonly Dictionary<string, Statement> _statements = [];

    // Per alarm, oldest first: what was told by a process that died before the store had it.
    private readonly Dictionary<(string Machine, string Condition), List<Taken>> _orphans = [];
    private Instant _orphansUntil = Instant.MinValue;

    // Its own, and not the pipeline's, which runs on another thread.
    private readonly FloodWatch _flood;
    private readonly HashSet<(string Outlet, string Condition)> _rootsTold = [];

    public OutboxLedger(string path, DeliveryRouter router, FloodOptions flood, Instant now)
    {
        _router = router;
        _flood = new FloodWatch(flood);
        _connection = OutboxFile.Open(path, now);
    }

    /// <summary>A change that was taken.</summary>
    private sealed record Taken(long Seq, string Id, AlarmChange Change, AlarmTransition? Transition);

    /// <summary>Takes changes, in order: each once. What is no news is only remembered.</summary>
    public void Enter(IReadOnlyList<(AlarmChange Change, ChangeOrigin Origin)> offers, Instant now) => InTransaction(() =>
    {
        foreach (var (change, origin) in offers)
            Enter(change, origin, now);
    });

    /// <summary>Compares with the store's log: takes what was never seen, and remembers what the store does not know.</summary>
    /// <param name="logged">The store's changes since <see cref="LookBackTo"/>.</param>
    /// <returns>How many were missing.</returns>
    public int TakeUp(IReadOnlyList<AlarmChange> logged, Instant now)
    {
        var missed = 0;
        InTransaction(() =>
        {
            // A flood goes on over a restart; those before it were told.
            foreach (var change in logged.OrderBy(c => c.Time))
                _flood.Observe(change);

            // First: the store may have, under another second, what was told by a process that died before it was stored.
            var since = LookBackTo(now);
            NoteOrphans(logged.Select(c => c.Id()).ToHashSet(), since);
            _orphansUntil = now + FindAgainWithin;
            foreach (var change in logged.OrderBy(c => c.Time))
            {
                if (change.Time < since || Find(change.Id()) is not null)
                    continue;
                missed++;
                Enter(change, ChangeOrigin.Missed, now);
            }

            PutOffUnanswered(now);
        });
        return missed;
    }

    /// <summary>From when on the store's log matters: not before this outbox was, and no longer than it remembers.</summary>
    public Instant LookBackTo(Instant now)
    {
        lock (_lock)
        {
            var begun = new Instant(Prepare("SELECT at FROM begun").RunForInt64()!.Value);
            var kept = now - _router.Keep;
            return begun > kept ? begun : kept;
        }
    }

    public void Dispose()
    {
        lock (_lock)
        {
            foreach (var statement in _statements.Values)
                statement.Dispose();
            _statements.Clear();
            _connection.Dispose();
        }
    }

    private void Enter(AlarmChange change, ChangeOrigin origin, Instant now)
    {
        var id = change.Id();
        var key = (change.Machine, change.Condition);
        if (Find(id) is not null)
        {
            if (_orphans.TryGetValue(key, out var told) && told.FindIndex(o => o.Id == id) is var place and >= 0)
                told.RemoveRange(0, place + 1);
            return;
        }

        var last = Newest(key.Machine, key.Condition);
        if (SameAs(change, origin, last, now) is { } same)
        {
            Insert(id, change, null, now, same);
            return;
        }

        var transition = AlarmTransitions.Of(change, last?.Change);
        if (transition == AlarmTransition.Ended && last?.Transition == AlarmTransition.SetAside && !IsRaised(key.Machine, key.Condition))
            transition = null; // set aside before anybody was told of it: its end is no news either
        var taken = new Taken(Insert(id, change, transition, now, null), id, change, transition);
        var toldFurther = FollowUnanswered(taken, last, now);
        if (origin != ChangeOrigin.Missed)
            NoteFlood(_flood.Observe(change));
        if (transition is { } kind)
            Route(taken, kind, toldFurther, now);
    }

    private void NoteFlood(IReadOnlyList<FloodChange> changes)
    {
        if (changes.Count > 0)
            _rootsTold.Clear();
    }

    /// <summary>The id of what was taken already and says the same; null where this is news.</summary>
    private string? SameAs(AlarmChange change, ChangeOrigin origin, Taken? last, Instant now)
    {
        if (last is null)
            return null;
        var orphans = _orphans.GetValueOrDefault((change.Machine, change.Condition), []);
        var found = now < _orphansUntil ? orphans.FindIndex(o => IsLike(o.Change, change)) : -1;
        if (found >= 0)
        {
            var id = orphans[found].Id;
            orphans.RemoveRange(0, found + 1);
            return id;
        }

        switch (origin)
        {
            case ChangeOrigin.FoundAgain when IsLike(last.Change, change):
                return last.Id;
            case ChangeOrigin.FoundAgain when Near(change) is { } near:
                return near;
            case ChangeOrigin.Missed when change.Time < last.Change.Time:
                return last.Id; // overtaken: what came after it was told
            default:
                orphans.Clear();
                return null;
        }
    }

    private static bool IsLike(AlarmChange a, AlarmChange b) => a.State == b.State && a.Priority == b.Priority;

    /// <summary>One of the same state and priority, moments off, with nothing of this alarm between the two.</summary>
    private string? Near(AlarmChange change)
    {
        var statement = Prepare("""
            SELECT id FROM taken WHERE machine = ?1 AND condition = ?2 AND same_as IS NULL AND state = ?3 AND priority = ?4 AND ts BETWEEN ?5 AND ?6
              AND NOT EXISTS (SELECT 1 FROM taken AS between_them WHERE between_them.machine = ?1 AND between_them.condition = ?2
                AND between_them.same_as IS NULL AND between_them.ts > min(taken.ts, ?7) AND between_them.ts < max(taken.ts, ?7))
            ORDER BY seq DESC LIMIT 1
            """)
            .Bind(1, change.Machine).Bind(2, change.Condition).Bind(3, (long)change.State).Bind(4, (long)change.Priority)
            .Bind(5, (change.Time - Apart).UnixNanoseconds).Bind(6, (change.Time + Apart).UnixNanoseconds).Bind(7, change.Time.UnixNanoseconds);
        var id = statement.Step() ? statement.Text(0) : null;
        statement.Reset();
        return id;
    }

    private void NoteOrphans(HashSet<string> stored, Instant since)
    {
        _orphans.Clear();
        var settled = new HashSet<(string, string)>();
        foreach (var taken in Read("SELECT seq, id, transition, json FROM taken WHERE same_as IS NULL AND ts >= ?1 ORDER BY seq DESC", s => s.Bind(1, since.UnixNanoseconds)))
        {
            var key = (taken.Change.Machine, taken.Change.Condition);
            if (settled.Contains(key))
                continue;
            if (stored.Contains(taken.Id))
                settled.Add(key);
            else if (_orphans.TryGetValue(key, out var list))
                list.Insert(0, taken);
            else
                _orphans.Add(key, [taken]);
        }
    }

    private long Insert(string id, AlarmChange change, AlarmTransition? transition, Instant now, string? sameAs)
    {
        var insert = Prepare("""
            INSERT INTO taken (id, machine, condition, state, priority, transition, ts, taken_at, same_as, json)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) RETURNING seq
            """)
            .Bind(1, id).Bind(2, change.Machine).Bind(3, change.Condition).Bind(4, (long)change.State).Bind(5, (long)change.Priority)
            .Bind(7, change.Time.UnixNanoseconds).Bind(8, now.UnixNanoseconds).Bind(9, sameAs).Bind(10, AlarmJson.ToUtf8(change));
        _ = transition is { } kind ? insert.Bind(6, (long)kind) : insert.Bind(6, (string?)null);
        return RunForOne(insert);
    }

    private long? Find(string id) => Prepare("SELECT seq FROM taken WHERE id = ?1").Bind(1, id).RunForInt64();

    private Taken? Newest(string machine, string condition) => ReadOne(
        "SELECT seq, id, transition, json FROM taken WHERE machine = ?1 AND condition = ?2 AND same_as IS NULL ORDER BY seq DESC LIMIT 1",
        s => s.Bind(1, machine).Bind(2, condition));

    /// <summary>Whether it was raised, and did not end since.</summary>
    private bool IsRaised(string machine, string condition) => Prepare(
        "SELECT transition FROM taken WHERE machine = ?1 AND condition = ?2 AND same_as IS NULL AND transition IN (0, 1) ORDER BY seq DESC LIMIT 1")
        .Bind(1, machine).Bind(2, condition).RunForInt64() == (long)AlarmTransition.Raised;

    /// <summary>What raised the alarm that a change belongs to: the newest raising up to that change.</summary>
    private Taken? RaisedBy(Taken taken) => ReadOne(
        "SELECT seq, id, transition, json FROM taken WHERE machine = ?1 AND condition = ?2 AND same_as IS NULL AND transition = 0 AND seq <= ?3 ORDER BY seq DESC LIMIT 1",
        s => s.Bind(1, taken.Change.Machine).Bind(2, taken.Change.Condition).Bind(3, taken.Seq));

    private Taken? ReadOne(string sql, Action<Statement> bind) => Read(sql, bind).FirstOrDefault();

    private List<Taken> Read(string sql, Action<Statement> bind)
    {
        var statement = Prepare(sql);
        bind(statement);
        var rows = new List<Taken>();
        while (statement.Step())
        {
            if (!AlarmJson.TryRead(statement.Bytes(3), out var change, out var mistake))
                throw new InvalidDataException($"the outbox holds an alarm that cannot be read: {mistake}");
            AlarmTransition? transition = statement.IsNull(2) ? null : (AlarmTransition)statement.Int64(2);
            rows.Add(new(statement.Int64(0), statement.Text(1), change!, transition));
        }

        return rows;
    }

    private static long RunForOne(Statement statement)
    {
        statement.Step();
        var value = statement.Int64(0);
        while (statement.Step())
        {
        }

        return value;
    }

    private Statement Prepare(string sql)
    {
        if (!_statements.TryGetValue(sql, out var statement))
            _statements.Add(sql, statement = new Statement(_connection, sql));
        statement.Reset();
        return statement;
    }

    private void InTransaction(Action act)
    {
        lock (_lock)
        {
            using var transaction = _connection.BeginTransaction();
            act();
            transaction.Commit();
        }
    }
}
