using System.Runtime.InteropServices;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Influx;

/// <summary>Appends to the side file: each batch is one transaction, and what has returned survives the death of the process.</summary>
/// <remarks>Other processes may write beside it. Not safe for several threads.</remarks>
internal sealed class SideWriter : IDisposable
{
    private readonly SqliteConnection _connection;
    private readonly bool _syncAlways;
    private readonly List<Statement> _statements = [];
    private readonly Statement _begin;
    private readonly Statement _commit;
    private readonly Statement _rollback;
    private readonly Statement _addSpool;
    private readonly Statement _size;
    private readonly Statement _addSize;
    private readonly Statement _addEventTime;
    private readonly Statement _addMachine;
    private readonly Statement _addChannel;
    private readonly Statement _addGap;
    private readonly Statement _setState;
    private readonly DeliveryTable _deliveries;
    private readonly SpooledLines _lines = new();
    private readonly HashSet<(string Machine, Channel? Channel)> _met = [];
    private bool? _full;

    public SideWriter(SqliteConnection connection, bool syncAlways)
    {
        _connection = connection;
        _syncAlways = syncAlways;
        _begin = Prepare("BEGIN IMMEDIATE");
        _commit = Prepare("COMMIT");
        _rollback = Prepare("ROLLBACK");
        _addSpool = Prepare("INSERT INTO spool (first_ts, last_ts, kinds, lines, bytes, text) VALUES (?1, ?2, ?3, ?4, ?5, ?6)");
        _size = Prepare("SELECT bytes FROM size");
        _addSize = Prepare("UPDATE size SET bytes = bytes + ?1");
        _addEventTime = Prepare("INSERT INTO event_time (series, ts, moved) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING");
        _addMachine = Prepare("INSERT INTO machine (name) VALUES (?1) ON CONFLICT DO NOTHING");
        _addChannel = Prepare("""
            INSERT INTO channel (machine, name, unit) VALUES (?1, ?2, ?3)
            ON CONFLICT DO UPDATE SET unit = excluded.unit WHERE excluded.unit <> '' AND unit <> excluded.unit
            """);
        _addGap = Prepare("INSERT INTO gap (machine, from_ts, to_ts, reason, lost, refused_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6)");
        _setState = Prepare("INSERT INTO watch_state (machine, state) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET state = excluded.state");
        _deliveries = new DeliveryTable(Prepare);
    }

    public Statement Prepare(string sql)
    {
        var statement = new Statement(_connection, sql);
        _statements.Add(statement);
        return statement;
    }

    /// <summary>Keeps the batch; the number of lines that wait for the server by it.</summary>
    /// <param name="mostBytes">What may wait in all.</param>
    /// <exception cref="SpoolFullException">There is no room for its lines; nothing of it was kept.</exception>
    public int Append(StoreBatch batch, long mostBytes)
    {
        // Samples alone survive the death of the program without waiting for the disk; what somebody decides by also survives a power cut.
        Sync(full: _syncAlways || batch.AlarmChanges.Count > 0 || batch.JobRecords.Count > 0 || batch.JobRuns.Count > 0
            || batch.ServiceEvents.Count > 0 || batch.Gaps.Count > 0);
        InTransaction(() =>
        {
            _lines.Fill(batch, FreeTime);
            var text = _lines.Text;
            if (text.Length > 0)
            {
                if ((_size.RunForInt64() ?? 0) + text.Length > mostBytes)
                    throw new SpoolFullException();
                _addSpool.Bind(1, _lines.First.UnixNanoseconds).Bind(2, _lines.Last.UnixNanoseconds).Bind(3, (long)_lines.Kinds)
                    .Bind(4, _lines.Count).Bind(5, text.Length).Bind(6, text.ToArray()).Run();
                AddSize(text.Length);
            }

            Meet(batch);
            foreach (var gap in batch.Gaps)
                AddGap(gap, null);
            foreach (var (machine, state) in batch.WatchStates)
                _setState.Bind(1, machine).Bind(2, state).Run();
            _deliveries.Write(batch.Deliveries);
        });
        return _lines.Count;
    }

    /// <summary>Runs the work as one transaction, all of it or nothing.</summary>
    public void InTransaction(Action work)
    {
        _begin.Run();
        try
        {
            work();
            _commit.Run();
        }
        catch
        {
            _met.Clear();
            _deliveries.Forget();
            try
            {
                _rollback.Run();
            }
            catch (SqliteException)
            {
                // On some faults, a full disk among them, SQLite has rolled back by itself and says that there is nothing to roll back.
            }

            throw;
        }
    }

    public void AddSize(long bytes) => _addSize.Bind(1, bytes).Run();

    /// <param name="refusedId">The refused lines that the gap tells of; null where it was told by the caller.</param>
    public void AddGap(Gap gap, long? refusedId)
    {
        _addGap.Bind(1, gap.Machine).Bind(2, gap.From.UnixNanoseconds).Bind(3, gap.To.UnixNanoseconds).Bind(4, gap.Reason).Bind(5, gap.Lost);
        if (refusedId is { } id)
            _addGap.Bind(6, id);
        else
            _addGap.Bind(6, (string?)null);
        _addGap.Run();
    }

    public void TrimDeliveries() => _deliveries.Trim();

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
    }

    private void Sync(bool full)
    {
        if (full == _full)
            return;
        // Never prepared ahead: SQLite obeys this pragma when it compiles it, not when it runs it.
        Schema.Execute(_connection, full ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL");
        _full = full;
    }

    /// <summary>The first nanosecond from the time on that no point of the series has.</summary>
    private Instant FreeTime(string series, Instant at)
    {
        var ts = at.UnixNanoseconds;
        while (_addEventTime.Bind(1, series).Bind(2, ts).Bind(3, ts - at.UnixNanoseconds).Run() == 0 && ts < InfluxQl.LastTime)
            ts++;
        return new Instant(ts);
    }

    private void Meet(StoreBatch batch)
    {
        foreach (ref readonly var entry in CollectionsMarshal.AsSpan(batch.Samples))
        {
            if (_met.Add((entry.Machine, entry.Sample.Channel)))
            {
                MeetMachine(entry.Machine);
                _addChannel.Bind(1, entry.Machine).Bind(2, entry.Sample.Channel.Name).Bind(3, entry.Sample.Channel.Unit).Run();
            }
        }

        foreach (var run in batch.JobRuns)
            MeetMachine(run.Machine);
        foreach (var service in batch.ServiceEvents)
            MeetMachine(service.Machine);
        foreach (var change in batch.AlarmChanges)
            MeetMachine(change.Machine);
    }

    private void MeetMachine(string machine)
    {
        if (_met.Add((machine, null)))
            _addMachine.Bind(1, machine).Run();
    }
}

/// <summary>The spool has no room for a batch.</summary>
internal sealed class SpoolFullException : Exception;
