using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The steps of upkeep: each is short, and runs inside a transaction of its caller.</summary>
/// <remarks>Not safe for several threads.</remarks>
internal sealed class Upkeep : IDisposable
{
    /// <summary>Rows that one step deletes or reads, about: some 10 ms on a small computer.</summary>
    public const int StepRows = 10_000;

    private const int StepMinutes = 256;

    private readonly RollUpTable _rollUps;
    private readonly List<Statement> _statements = [];
    private readonly Statement _stale;
    private readonly Statement _staleOfSeries;
    private readonly Statement _setMinute;
    private readonly Statement _setHour;
    private readonly Statement _clearStale;
    private readonly Statement _deleteMinute;
    private readonly Statement _series;
    private readonly Statement _firstSample;
    private readonly Statement _stepEnd;
    private readonly Statement _deleteBefore;
    private readonly Statement _seal;
    private readonly Statement _trimDeliveries;
    private readonly Statement _dropDeliveries;
    private readonly Statement _dropSessions;
    private readonly Statement _deleteAlarms;
    private readonly Statement _deleteRuns;
    private readonly Statement _deleteService;
    private readonly Statement _deleteGaps;
    private readonly List<(long SeriesId, long Minute)> _rolling = [];
    private readonly HashSet<(long SeriesId, long Hour)> _hours = [];

    public Upkeep(SqliteConnection connection)
    {
        _rollUps = new RollUpTable(connection);
        _stale = Prepare("SELECT series_id, minute FROM stale_minute WHERE minute < ?1 ORDER BY series_id, minute LIMIT ?2");
        _staleOfSeries = Prepare("SELECT series_id, minute FROM stale_minute WHERE series_id = ?3 AND minute < ?1 ORDER BY minute LIMIT ?2");
        _setMinute = Prepare("""
            INSERT INTO rollup_minute (series_id, minute, n, min, mean, max) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
            ON CONFLICT DO UPDATE SET n = excluded.n, min = excluded.min, mean = excluded.mean, max = excluded.max
            """);
        _setHour = Prepare("""
            INSERT INTO rollup_hour (series_id, hour, n, min, mean, max) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
            ON CONFLICT DO UPDATE SET n = excluded.n, min = excluded.min, mean = excluded.mean, max = excluded.max
            """);
        _clearStale = Prepare("DELETE FROM stale_minute WHERE series_id = ?1 AND minute = ?2");
        _deleteMinute = Prepare("DELETE FROM sample WHERE series_id = ?1 AND ts BETWEEN ?2 AND ?3");
        _series = Prepare("SELECT id FROM series ORDER BY id");
        _firstSample = Prepare("SELECT ts FROM sample WHERE series_id = ?1 ORDER BY ts LIMIT 1");
        _stepEnd = Prepare("SELECT ts FROM sample WHERE series_id = ?1 AND ts < ?2 ORDER BY ts LIMIT 1 OFFSET ?3");
        _deleteBefore = Prepare("DELETE FROM sample WHERE series_id = ?1 AND ts < ?2");
        _seal = Prepare("UPDATE series SET sealed_before = max(ifnull(sealed_before, ?2), ?2) WHERE id = ?1");
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

    /// <summary>Samples deleted by all steps so far.</summary>
    public long DeletedSamples { get; private set; }

    /// <summary>Rolls some stale minutes that begin before <paramref name="before"/>; the number, 0 when none is left.</summary>
    public int RollSome(long before) => Roll(_stale.Bind(1, before).Bind(2, StepMinutes));

    public IReadOnlyList<long> ReadSeries()
    {
        var all = new List<long>();
        while (_series.Step())
            all.Add(_series.Int64(0));
        return all;
    }

    /// <summary>Deletes some of the series' oldest samples, whole minutes before <paramref name="cutoff"/>; false when none is left.</summary>
    public bool DeleteSomeSamples(long seriesId, long cutoff)
    {
        var end = RollUpTable.FirstOf(cutoff);
        if (_firstSample.Bind(1, seriesId).RunForInt64() is not { } first || first >= end)
            return false;
        var before = _stepEnd.Bind(1, seriesId).Bind(2, end).Bind(3, StepRows).RunForInt64() is { } full
            ? Math.Max(TimeGrid.MinuteOf(new Instant(full)), TimeGrid.MinuteOf(new Instant(first)) + 1)
            : cutoff;
        // A late sample may have come since the roll-ups were brought up to date.
        while (Roll(_staleOfSeries.Bind(1, before).Bind(2, StepMinutes).Bind(3, seriesId)) > 0)
        {
        }

        DeletedSamples += _deleteBefore.Bind(1, seriesId).Bind(2, RollUpTable.FirstOf(before)).Run();
        _seal.Bind(1, seriesId).Bind(2, before).Run();
        return true;
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
        _rollUps.Dispose();
    }

    private int Roll(Statement stale)
    {
        _rolling.Clear();
        _hours.Clear();
        while (stale.Step())
            _rolling.Add((stale.Int64(0), stale.Int64(1)));
        foreach (var (seriesId, minute) in _rolling)
        {
            Set(_setMinute, seriesId, minute, _rollUps.ComputeMinute(seriesId, minute));
            if (_rollUps.IsSealed(seriesId, minute))
                DeletedSamples += _deleteMinute.Bind(1, seriesId).Bind(2, RollUpTable.FirstOf(minute)).Bind(3, RollUpTable.LastOf(minute)).Run();
            _clearStale.Bind(1, seriesId).Bind(2, minute).Run();
            _hours.Add((seriesId, TimeGrid.HourOf(minute)));
        }

        // The hour's minutes that are still stale are marked, so that a reader works the hour out anew.
        foreach (var (seriesId, hour) in _hours)
            Set(_setHour, seriesId, hour, _rollUps.ComputeHour(seriesId, hour));
        return _rolling.Count;
    }

    private static void Set(Statement statement, long seriesId, long start, RollUpSum sum)
    {
        if (sum.Count > 0)
            statement.Bind(1, seriesId).Bind(2, start).Bind(3, sum.Count).Bind(4, sum.Min).Bind(5, sum.Mean).Bind(6, sum.Max).Run();
    }
}
