using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The steps of upkeep but for the samples' own: each is short, and runs inside a transaction of its caller.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class Upkeep : IDisposable
{
    /// <summary>Rows that one step deletes, about: some 10 ms on a small computer.</summary>
    public const int StepRows = 10_000;

    private readonly List<Statement> _statements = [];
    private readonly Statement _series;
    private readonly Statement _trimDeliveries;
    private readonly Statement _dropDeliveries;
    private readonly Statement _dropSessions;
    private readonly Statement _deleteAlarms;
    private readonly Statement _deleteRuns;
    private readonly Statement _deleteService;
    private readonly Statement _deleteGaps;

    public Upkeep(SqliteConnection connection)
    {
        _series = Prepare("SELECT machine, id FROM series ORDER BY machine, id");
        _trimDeliveries = Prepare("""
            DELETE FROM delivery WHERE (session_id, packet_id) IN (
                SELECT d.session_id, d.packet_id FROM delivery_session s JOIN delivery d ON d.session_id = s.id
                WHERE d.number <= s.last_number - ?1 LIMIT ?2)
            """);
        _dropDeliveries = Prepare("""
            DELETE FROM delivery WHERE session_id IN (SELECT id FROM delivery_session ORDER BY last_use DESC, id DESC LIMIT -1 OFFSET ?1)
            """);
        _dropSessions = Prepare("""
            DELETE FROM delivery_session WHERE id IN (SELECT id FROM delivery_session ORDER BY last_use DESC, id DESC LIMIT -1 OFFSET ?1)
            """);

        // An alarm's newest state is what it is now, and the newest service of a part is what it counts from: they stay, however old.
        _deleteAlarms = Prepare("""
            DELETE FROM alarm_change WHERE id IN (
                SELECT id FROM alarm_change a WHERE ts < ?1 AND EXISTS (
                    SELECT 1 FROM alarm_change b WHERE b.machine = a.machine AND b.condition = a.condition AND (b.ts, b.id) > (a.ts, a.id))
                LIMIT ?2)
            """);
        _deleteService = Prepare("""
            DELETE FROM service_event WHERE id IN (
                SELECT id FROM service_event a WHERE ts < ?1 AND EXISTS (
                    SELECT 1 FROM service_event b
                    WHERE b.machine = a.machine AND b.part = a.part AND b.action = a.action AND (b.ts, b.id) > (a.ts, a.id))
                LIMIT ?2)
            """);
        _deleteRuns = Prepare("DELETE FROM job_run WHERE id IN (SELECT id FROM job_run WHERE ts < ?1 LIMIT ?2)");
        _deleteGaps = Prepare("DELETE FROM gap WHERE id IN (SELECT id FROM gap WHERE to_ts < ?1 LIMIT ?2)");

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    /// <summary>The series of each machine, by their numbers.</summary>
    public IReadOnlyList<(string Machine, IReadOnlyList<long> Series)> ReadSeries()
    {
        var all = new List<(string Machine, IReadOnlyList<long> Series)>();
        var own = new List<long>();
        while (_series.Step())
        {
            var machine = _series.Text(0);
            if (all.Count == 0 || all[^1].Machine != machine)
                all.Add((machine, own = []));
            own.Add(_series.Int64(1));
        }

        return all;
    }

    public int DeleteSomeAlarms(Instant before) => _deleteAlarms.Bind(1, before.UnixNanoseconds).Bind(2, StepRows).Run();

    public int DeleteSomeRuns(Instant before) => _deleteRuns.Bind(1, before.UnixNanoseconds).Bind(2, StepRows).Run();

    public int DeleteSomeService(Instant before) => _deleteService.Bind(1, before.UnixNanoseconds).Bind(2, StepRows).Run();

    public int DeleteSomeGaps(Instant before) => _deleteGaps.Bind(1, before.UnixNanoseconds).Bind(2, StepRows).Run();

    /// <summary>Forgets some deliveries that are too old to come again; the number, 0 when none is left.</summary>
    public int TrimSomeDeliveries() => _trimDeliveries.Bind(1, BatchWriter.KeptDeliveries).Bind(2, StepRows).Run();

    /// <summary>Forgets the sessions beyond the number kept; true where there were some.</summary>
    public bool DropSessions()
    {
        _dropDeliveries.Bind(1, BatchWriter.KeptSessions).Run();
        return _dropSessions.Bind(1, BatchWriter.KeptSessions).Run() > 0;
    }

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
    }
}
