using LaserWatch.Recordings;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Influx;

/// <summary>Lines that wait in order for the server, and lines that it would not take.</summary>
/// <param name="Id">Counts up; an id is never used again.</param>
internal sealed record SpoolRow(long Id, int Lines, byte[] Text);

/// <summary>A line that the server refuses, and its words.</summary>
internal readonly record struct RefusedLine(ReadOnlyMemory<byte> Line, string Why);

/// <summary>Takes appended batches out of the side file once the server has them. Not safe for several threads.</summary>
internal sealed class Spool(SideWriter writer)
{
    /// <summary>What a gap says of lines that were set aside.</summary>
    public const string RefusedReason = "refused by InfluxDB";

    private readonly Statement _next = writer.Prepare("SELECT id, lines, text FROM spool ORDER BY id");
    private readonly Statement _remove = writer.Prepare("DELETE FROM spool WHERE id = ?1");
    private readonly Statement _addRefused = writer.Prepare("INSERT INTO refused (why, lines, bytes, text) VALUES (?1, ?2, ?3, ?4) RETURNING id");
    private readonly Statement _nextRefused = writer.Prepare("SELECT id, lines, text FROM refused WHERE id > ?1 AND id <= ?2 ORDER BY id LIMIT 1");
    private readonly Statement _lastRefused = writer.Prepare("SELECT max(id) FROM refused");
    private readonly Statement _removeRefused = writer.Prepare("DELETE FROM refused WHERE id = ?1");
    private readonly Statement _removeGap = writer.Prepare("DELETE FROM gap WHERE refused_id = ?1");
    private readonly ParsedLine _parsed = new();

    /// <summary>The oldest rows: so many that they hold about this number of lines; empty where nothing waits.</summary>
    public IReadOnlyList<SpoolRow> Take(int lines)
    {
        var rows = new List<SpoolRow>();
        while (lines > 0 && _next.Step())
        {
            var row = new SpoolRow(_next.Int64(0), (int)_next.Int64(1), _next.Blob(2));
            rows.Add(row);
            lines -= row.Lines;
        }

        _next.Reset();
        return rows;
    }

    /// <summary>The server has the rows, but for the lines given: those are set aside, with a gap for each machine.</summary>
    /// <remarks>Where another process was faster with a row, it has set its lines aside too.</remarks>
    public void Done(IReadOnlyList<SpoolRow> rows, IReadOnlyList<RefusedLine> refused) => writer.InTransaction(() =>
    {
        var mine = 0;
        foreach (var row in rows)
        {
            if (_remove.Bind(1, row.Id).Run() == 0)
                continue;
            mine++;
            writer.AddSize(-row.Text.Length);
        }

        if (mine == 0)
            return;
        foreach (var same in refused.GroupBy(line => line.Why))
            SetAside(same.Key, [.. same.Select(line => line.Line)]);
    });

    /// <summary>The highest number of lines set aside; 0 where there are none.</summary>
    public long LastRefused() => _lastRefused.RunForInt64() ?? 0;

    /// <summary>The next lines set aside after a number and up to another; null where there are none.</summary>
    public SpoolRow? NextRefused(long after, long upTo)
    {
        if (!_nextRefused.Bind(1, after).Bind(2, upTo).Step())
            return null;
        var row = new SpoolRow(_nextRefused.Int64(0), (int)_nextRefused.Int64(1), _nextRefused.Blob(2));
        _nextRefused.Reset();
        return row;
    }

    /// <summary>The server has taken the lines after all: they are no gap any more.</summary>
    public void Mended(SpoolRow refused) => writer.InTransaction(() =>
    {
        if (_removeRefused.Bind(1, refused.Id).Run() > 0)
            writer.AddSize(-refused.Text.Length);
        _removeGap.Bind(1, refused.Id).Run();
    });

    private void SetAside(string why, IReadOnlyList<ReadOnlyMemory<byte>> lines)
    {
        using var text = new MemoryStream();
        var gaps = new Dictionary<string, Gap>(StringComparer.Ordinal);
        foreach (var line in lines)
        {
            text.Write(line.Span);
            text.WriteByte((byte)'\n');
            if (LineProtocol.TryParse(line.Span, _parsed, out _) && _parsed.Tag("machine") is { } machine)
                gaps[machine] = Widened(gaps.GetValueOrDefault(machine), machine, _parsed);
        }

        var id = _addRefused.Bind(1, why).Bind(2, lines.Count).Bind(3, text.Length).Bind(4, text.ToArray()).RunForInt64()!.Value;
        writer.AddSize(text.Length);
        foreach (var gap in gaps.Values)
            writer.AddGap(gap, id);
    }

    private static Gap Widened(Gap? gap, string machine, ParsedLine line)
    {
        gap ??= new Gap(machine, line.Time, line.Time, RefusedReason, 0);
        return gap with
        {
            From = line.Time < gap.From ? line.Time : gap.From,
            To = line.Time > gap.To ? line.Time : gap.To,
            Lost = gap.Lost + (line.Measurement == EventLines.Telemetry ? line.Fields.Count : 0),
        };
    }
}
