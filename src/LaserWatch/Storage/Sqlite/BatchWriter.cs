using System.Runtime.InteropServices;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Writes one batch as one transaction, with statements that stay prepared.</summary>
/// <remarks>
/// What it remembers of the file (series, how far each is sealed, sessions) is forgotten when a transaction fails or another connection has written.
/// Not safe for several threads.
/// </remarks>
internal sealed class BatchWriter : IDisposable
{
    /// <summary>Deliveries of a session that are known again; see <see cref="ITelemetryStore.WasDeliveredAsync"/>.</summary>
    public const int KeptDeliveries = 4096;

    /// <summary>Sessions whose deliveries are kept, by last use: a client that names itself anew each time must not fill the file.</summary>
    public const int KeptSessions = 10_000;

    private readonly SqliteConnection _connection;
    private readonly bool _syncAlways;
    private readonly List<Statement> _statements = [];
    private readonly Statement _begin;
    private readonly Statement _commit;
    private readonly Statement _rollback;
    private readonly Statement _dataVersion;
    private readonly Statement _addJobRecord;
    private readonly Statement _addJobRun;
    private readonly Statement _addService;
    private readonly Statement _addAlarm;
    private readonly Statement _addGap;
    private readonly Statement _setState;
    private readonly Statement _addSession;
    private readonly Statement _findSession;
    private readonly Statement _setSession;
    private readonly Statement _addDelivery;
    private readonly Statement _lastUse;

    private readonly Dictionary<string, Session> _sessions = new(StringComparer.Ordinal);
    private readonly List<Session> _delivering = [];
    private readonly SampleAppending _samples;
    private readonly PackedState _packedState = new();
    private readonly Action _write;
    private StoreBatch _appended = new();
    private long _seenVersion = -1;
    private bool? _full;

    public BatchWriter(SqliteConnection connection, bool syncAlways)
    {
        _connection = connection;
        _syncAlways = syncAlways;
        _samples = new SampleAppending(connection);
        _write = () => Write(_appended);
        _begin = Prepare("BEGIN IMMEDIATE");
        _commit = Prepare("COMMIT");
        _rollback = Prepare("ROLLBACK");
        _dataVersion = Prepare("PRAGMA data_version");
        _addJobRecord = Prepare("""
            INSERT INTO job_record (job, ts, material, power_percent, speed_mm_s, air_pressure_kpa, tube_current_ma, mode, air_pressure_tolerance)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
            ON CONFLICT DO UPDATE SET
                material = excluded.material, power_percent = excluded.power_percent, speed_mm_s = excluded.speed_mm_s,
                air_pressure_kpa = excluded.air_pressure_kpa, tube_current_ma = excluded.tube_current_ma, mode = excluded.mode,
                air_pressure_tolerance = excluded.air_pressure_tolerance
            """);
        _addJobRun = Prepare("INSERT INTO job_run (machine, ts, event, job, inferred) VALUES (?1, ?2, ?3, ?4, ?5)");
        _addService = Prepare("INSERT INTO service_event (machine, ts, part, action, serial, note, details) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)");
        _addAlarm = Prepare("""
            INSERT INTO alarm_change (ts, machine, condition, state, priority, value, "limit", unit, job, message, evidence, checks, by)
            VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)
            """);
        _addGap = Prepare("INSERT INTO gap (machine, from_ts, to_ts, reason, lost) VALUES (?1, ?2, ?3, ?4, ?5)");
        _setState = Prepare("INSERT INTO watch_state (machine, state) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET state = excluded.state");
        _addSession = Prepare("INSERT INTO delivery_session (name, last_number, last_use) VALUES (?1, 0, 0) ON CONFLICT DO NOTHING");
        _findSession = Prepare("SELECT id, last_number FROM delivery_session WHERE name = ?1");
        _setSession = Prepare("UPDATE delivery_session SET last_number = ?2, last_use = ?3 WHERE id = ?1");
        _addDelivery = Prepare("""
            INSERT INTO delivery (session_id, packet_id, content_hash, number) VALUES (?1, ?2, ?3, ?4)
            ON CONFLICT DO UPDATE SET content_hash = excluded.content_hash, number = excluded.number
            """);
        _lastUse = Prepare("SELECT max(last_use) FROM delivery_session");

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    public void Append(StoreBatch batch)
    {
        // Samples alone survive the death of the program without waiting for the disk; what somebody decides by also survives a power cut.
        Sync(full: _syncAlways || batch.AlarmChanges.Count > 0 || batch.JobRecords.Count > 0 || batch.JobRuns.Count > 0
            || batch.ServiceEvents.Count > 0 || batch.Gaps.Count > 0);
        _appended = batch;
        InTransaction(_write);
    }

    /// <summary>Runs the work as one transaction, all of it or nothing.</summary>
    public void InTransaction(Action work)
    {
        _begin.Run();
        try
        {
            var version = _dataVersion.RunForInt64() ?? 0;
            if (version != _seenVersion)
                Forget();
            _seenVersion = version;
            work();
            _commit.Run();
        }
        catch
        {
            Forget();
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

    private void Forget()
    {
        _samples.Forget();
        _sessions.Clear();
        _delivering.Clear();
    }

    /// <summary>To be called after samples of the machine were sealed or deleted.</summary>
    public void ForgetSamplesOf(string machine) => _samples.Forget(machine);

    /// <summary>To be called after sessions were dropped.</summary>
    public void ForgetSessions()
    {
        _sessions.Clear();
        _delivering.Clear();
    }

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
        _samples.Dispose();
    }

    private void Sync(bool full)
    {
        if (full == _full)
            return;
        // Never prepared ahead: SQLite obeys this pragma when it compiles it, not when it runs it.
        Schema.Execute(_connection, full ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL");
        _full = full;
    }

    private void Write(StoreBatch batch)
    {
        _samples.Write(CollectionsMarshal.AsSpan(batch.Samples));
        foreach (var record in batch.JobRecords)
            Write(record);
        foreach (var run in batch.JobRuns)
        {
            _addJobRun.Bind(1, run.Machine).Bind(2, run.At.UnixNanoseconds).Bind(3, EventNames.Name(run.Kind)).Bind(4, run.Job)
                .Bind(5, run.Inferred ? 1L : 0L).Run();
        }

        foreach (var service in batch.ServiceEvents)
        {
            _addService.Bind(1, service.Machine).Bind(2, service.At.UnixNanoseconds).Bind(3, service.Part).Bind(4, service.Action)
                .Bind(5, service.Serial).Bind(6, service.Note).Bind(7, EventJson.Write(service.Details)).Run();
        }

        foreach (var change in batch.AlarmChanges)
            Write(change);
        foreach (var gap in batch.Gaps)
        {
            _addGap.Bind(1, gap.Machine).Bind(2, gap.From.UnixNanoseconds).Bind(3, gap.To.UnixNanoseconds).Bind(4, gap.Reason)
                .Bind(5, gap.Lost).Run();
        }

        foreach (var (machine, state) in batch.WatchStates)
            _setState.Bind(1, machine).Bind(2, _packedState.Pack(state)).Run();
        WriteDeliveries(batch.Deliveries);
    }

    private void Write(JobRecord record) =>
        _addJobRecord.Bind(1, record.Job).Bind(2, record.RecordedAt.UnixNanoseconds).Bind(3, record.Material)
            .Bind(4, record.Power?.Value).Bind(5, record.SpeedMmPerS).Bind(6, record.AirPressure?.Value)
            .Bind(7, record.TubeCurrent?.Value).Bind(8, EventNames.Name(record.Mode)).Bind(9, record.AirPressureTolerance).Run();

    private void Write(AlarmChange change) =>
        _addAlarm.Bind(1, change.Time.UnixNanoseconds).Bind(2, change.Machine).Bind(3, change.Condition)
            .Bind(4, change.State.Name()).Bind(5, change.Priority.Name()).Bind(6, change.Value).Bind(7, change.Limit)
            .Bind(8, change.Unit).Bind(9, change.Job).Bind(10, change.Message).Bind(11, EventJson.Write(change.Evidence))
            .Bind(12, EventJson.Write(change.Checks)).Bind(13, change.By).Run();

    private void WriteDeliveries(List<PacketDelivery> deliveries)
    {
        if (deliveries.Count == 0)
            return;
        foreach (var (name, packetId, contentHash) in deliveries)
        {
            if (!_sessions.TryGetValue(name, out var session))
                session = MeetSession(name);
            if (!session.Touched)
                _delivering.Add(session);
            session.Touched = true;
            session.LastNumber++;
            _addDelivery.Bind(1, session.Id).Bind(2, packetId).Bind(3, unchecked((long)contentHash)).Bind(4, session.LastNumber).Run();
        }

        var use = (_lastUse.RunForInt64() ?? 0) + 1;
        foreach (var session in _delivering)
        {
            _setSession.Bind(1, session.Id).Bind(2, session.LastNumber).Bind(3, use).Run();
            session.Touched = false;
        }

        _delivering.Clear();
    }

    private Session MeetSession(string name)
    {
        if (_sessions.Count >= KeptSessions && _delivering.Count == 0)
            _sessions.Clear();
        _addSession.Bind(1, name).Run();
        _findSession.Bind(1, name).Step();
        var session = new Session(_findSession.Int64(0)) { LastNumber = _findSession.Int64(1) };
        _findSession.Reset();
        _sessions.Add(name, session);
        return session;
    }

    private sealed class Session(long id)
    {
        public readonly long Id = id;
        public long LastNumber;
        public bool Touched;
    }
}
