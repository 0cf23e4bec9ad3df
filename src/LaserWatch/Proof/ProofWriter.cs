using System.Buffers;
using System.Text;

namespace LaserWatch.Proof;

/// <summary>Writes the comment lines of a proof, in their order, into a buffer that its owner empties.</summary>
internal sealed class ProofWriter
{
    private readonly ArrayBufferWriter<byte> _bytes = new();
    private int _lines;

    /// <summary>Hands out what was written since the last call.</summary>
    public byte[] Take()
    {
        var bytes = _bytes.WrittenSpan.ToArray();
        _bytes.ResetWrittenCount();
        return bytes;
    }

    public void Begin(string machine, string content) =>
        Line(ProofPrefix.Part, LogJson.Write(new ProofBegin(ProofBegin.Name, ProofBegin.Newest, machine, content)));

    public void Day(DayEntry entry, ProofRange samples, ProofRange events, ProofRange records, LeafList leaves)
    {
        var list = leaves.Pack(entry);
        Line(ProofPrefix.Part, LogJson.Write(new ProofDay(ProofDay.Name, entry.Number, samples, events, records, Digest.Of(list))));
        foreach (var piece in list.Chunk(ProofLeaves.PieceBytes))
            Line(ProofPrefix.Part, LogJson.Write(new ProofLeaves(ProofLeaves.Name, entry.Number, Convert.ToBase64String(piece))));
    }

    /// <summary>A line of the recording's kind that lies outside its time.</summary>
    public void Rest(ReadOnlySpan<byte> line)
    {
        _bytes.Write(ProofPrefix.Rest);
        End(line);
    }

    /// <summary>All entries, the heads that matter, the end.</summary>
    public void LogAndEnd(LogContent log)
    {
        foreach (var line in log.EntryLines)
            Line(ProofPrefix.Log, line);
        foreach (var line in HeadsThatMatter(log))
        {
            Line(ProofPrefix.Log, line);
            if (log.StampOf(line) is { } stamp)
                Line(ProofPrefix.Log, LogJson.Write(stamp));
        }

        Line(ProofPrefix.Part, LogJson.Write(new ProofEnd(ProofEnd.Name, _lines + 1)));
    }

    /// <summary>The newest head, and of each month the first that an authority stamped: it narrows when the days before it were there already.</summary>
    private static IEnumerable<string> HeadsThatMatter(LogContent log)
    {
        var months = new HashSet<string>(StringComparer.Ordinal);
        for (var i = 0; i < log.Heads.Count; i++)
        {
            var (head, line) = log.Heads[i];
            var isFirst = log.StampOf(line) is not null && months.Add(head.At[..Math.Min(7, head.At.Length)]);
            if (isFirst || i == log.Heads.Count - 1)
                yield return line;
        }
    }

    private void Line(ReadOnlySpan<byte> prefix, string text)
    {
        _bytes.Write(prefix);
        End(Encoding.UTF8.GetBytes(text));
    }

    private void End(ReadOnlySpan<byte> text)
    {
        _bytes.Write(text);
        _bytes.Write("\n"u8);
        _lines++;
    }
}
