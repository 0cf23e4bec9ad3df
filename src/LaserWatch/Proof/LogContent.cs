using System.Text;
using LaserWatch.Payloads;

namespace LaserWatch.Proof;

/// <summary>A machine's log as read: its entries in order, the signed heads, and the time-stamp tokens.</summary>
public sealed class LogContent(string machine)
{
    private readonly List<DayEntry> _entries = [];
    private readonly List<Digest> _leaves = [];
    private readonly List<string> _lines = [];
    private readonly List<(LogHead Head, string Line)> _heads = [];
    private readonly Dictionary<Digest, LogStamp> _stamps = [];
    private readonly Dictionary<DateOnly, DayEntry> _newest = [];

    public string Machine { get; } = machine;

    public IReadOnlyList<DayEntry> Entries => _entries;

    /// <summary>The line of each entry.</summary>
    public IReadOnlyList<string> EntryLines => _lines;

    /// <summary>The heads with their lines, in the order of the file.</summary>
    public IReadOnlyList<(LogHead Head, string Line)> Heads => _heads;

    /// <summary>The entry in force for each day: that of its latest revision.</summary>
    public IReadOnlyDictionary<DateOnly, DayEntry> Newest => _newest;

    public LogHead? Head => _heads.Count > 0 ? _heads[^1].Head : null;

    /// <summary>The root over the first entries.</summary>
    public Digest RootOf(int size) => MerkleTree.Root(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_leaves)[..size]);

    public LogStamp? StampOf(string headLine) => _stamps.GetValueOrDefault(Digest.Of(Encoding.UTF8.GetBytes(headLine)));

    /// <summary>True where a token is there for a head that is not.</summary>
    public bool HasStrayStamp => _stamps.Keys.Except(_heads.Select(head => Digest.Of(Encoding.UTF8.GetBytes(head.Line)))).Any();

    /// <summary>Takes the next line; what is wrong with it, in words, or null.</summary>
    public string? Take(ReadOnlySpan<byte> line) => MistakeOf(line) is { } mistake ? PayloadText.Clean(mistake, 300) : null;

    private string? MistakeOf(ReadOnlySpan<byte> line)
    {
        if (LogJson.IsKind(line, DayEntry.KindName))
        {
            if (!LogJson.TryRead<DayEntry>(line, out var entry))
                return "is no entry as the log spells them";
            if (entry.Machine != Machine)
                return $"is of the machine {entry.Machine}; the log is {Machine}'s";
            if (entry.Number != _entries.Count)
                return $"has the number {entry.Number}; the next is {_entries.Count}";
            if (RevisionMistake(entry) is { } wrong)
                return wrong;
            Add(entry, Encoding.UTF8.GetString(line));
            return null;
        }

        if (LogJson.IsKind(line, LogHead.KindName))
        {
            if (!LogJson.TryRead<LogHead>(line, out var head))
                return "is no head as the log spells them";
            if (head.Machine != Machine)
                return $"is a head of the machine {head.Machine}; the log is {Machine}'s";
            _heads.Add((head, Encoding.UTF8.GetString(line)));
            return null;
        }

        if (LogJson.IsKind(line, LogStamp.KindName))
        {
            if (!LogJson.TryRead<LogStamp>(line, out var stamp))
                return "is no time stamp as the log spells them";
            _stamps[stamp.Head] = stamp;
            return null;
        }

        return "is none of entry, head and time stamp";
    }

    private string? RevisionMistake(DayEntry entry)
    {
        if (!_newest.TryGetValue(entry.Day, out var before))
            return entry is { Revision: 0, Replaces: null } ? null : $"is a revision of {entry.Day:yyyy-MM-dd}, which was never sealed before";
        return entry.Revision == before.Revision + 1 && entry.Replaces == before.Number
            ? null
            : $"does not say that it replaces entry {before.Number}, which seals {entry.Day:yyyy-MM-dd} too";
    }

    private void Add(DayEntry entry, string line)
    {
        _entries.Add(entry);
        _lines.Add(line);
        _leaves.Add(MerkleTree.HashLeaf(Encoding.UTF8.GetBytes(line)));
        _newest[entry.Day] = entry;
    }
}
