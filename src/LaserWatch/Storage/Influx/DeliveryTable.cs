using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Storage.Influx;

/// <summary>The MQTT deliveries that were kept, so that a second copy is known; see <see cref="ITelemetryStore.WasDeliveredAsync"/>.</summary>
/// <remarks>Wants a transaction of its caller. Not safe for several threads.</remarks>
internal sealed class DeliveryTable(Func<string, Statement> prepare)
{
    /// <summary>Deliveries of a session that are known again.</summary>
    public const int Kept = 4096;

    /// <summary>Sessions whose deliveries are kept, by last use: a client that names itself anew each time must not fill the file.</summary>
    public const int KeptSessions = 10_000;

    private readonly Statement _addSession = prepare("INSERT INTO delivery_session (name, last_number, last_use) VALUES (?1, 0, 0) ON CONFLICT DO NOTHING");
    private readonly Statement _findSession = prepare("SELECT id, last_number FROM delivery_session WHERE name = ?1");
    private readonly Statement _setSession = prepare("UPDATE delivery_session SET last_number = ?2, last_use = ?3 WHERE id = ?1");
    private readonly Statement _lastUse = prepare("SELECT max(last_use) FROM delivery_session");
    private readonly Statement _add = prepare("""
        INSERT INTO delivery (session_id, packet_id, content_hash, number) VALUES (?1, ?2, ?3, ?4)
        ON CONFLICT DO UPDATE SET content_hash = excluded.content_hash, number = excluded.number
        """);

    private readonly Statement _trim = prepare("""
        DELETE FROM delivery WHERE (session_id, packet_id) IN (
            SELECT d.session_id, d.packet_id FROM delivery_session s JOIN delivery d ON d.session_id = s.id WHERE d.number <= s.last_number - ?1)
        """);

    private readonly Statement _dropDeliveries = prepare("""
        DELETE FROM delivery WHERE session_id IN (SELECT id FROM delivery_session ORDER BY last_use DESC, id DESC LIMIT -1 OFFSET ?1)
        """);

    private readonly Statement _dropSessions = prepare("""
        DELETE FROM delivery_session WHERE id IN (SELECT id FROM delivery_session ORDER BY last_use DESC, id DESC LIMIT -1 OFFSET ?1)
        """);

    private readonly Dictionary<string, (long Id, long LastNumber)> _sessions = new(StringComparer.Ordinal);

    public void Write(List<PacketDelivery> deliveries)
    {
        if (deliveries.Count == 0)
            return;
        _sessions.Clear(); // another process may have written meanwhile
        foreach (var (name, packetId, contentHash) in deliveries)
        {
            if (!_sessions.TryGetValue(name, out var session))
                session = Meet(name);
            session.LastNumber++;
            _sessions[name] = session;
            _add.Bind(1, session.Id).Bind(2, packetId).Bind(3, unchecked((long)contentHash)).Bind(4, session.LastNumber).Run();
        }

        var use = (_lastUse.RunForInt64() ?? 0) + 1;
        foreach (var (id, lastNumber) in _sessions.Values)
            _setSession.Bind(1, id).Bind(2, lastNumber).Bind(3, use).Run();
    }

    /// <summary>Forgets what is too old to come again, and the sessions beyond the number kept.</summary>
    public void Trim()
    {
        _trim.Bind(1, Kept).Run();
        _dropDeliveries.Bind(1, KeptSessions).Run();
        _dropSessions.Bind(1, KeptSessions).Run();
    }

    public void Forget() => _sessions.Clear();

    private (long Id, long LastNumber) Meet(string name)
    {
        _addSession.Bind(1, name).Run();
        _findSession.Bind(1, name).Step();
        var session = (_findSession.Int64(0), _findSession.Int64(1));
        _findSession.Reset();
        return session;
    }
}
