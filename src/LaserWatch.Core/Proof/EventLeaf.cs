using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>One leaf: an event, as the line of line protocol that a recording has for it.</summary>
/// <remarks>
/// Leaves stand in time order, at equal times by their lines (byte by byte); one line twice is two leaves. The content of a leaf, which RFC 6962
/// hashes behind a byte 0: one byte 2, then the line in UTF-8 without a line end.
/// </remarks>
public sealed class EventLeaf
{
    private readonly byte[] _line;

    public EventLeaf(Instant at, ReadOnlySpan<byte> line)
    {
        At = at;
        _line = line.ToArray();
        byte[] content = [2, .. line];
        Hash = MerkleTree.HashLeaf(content);
    }

    public Instant At { get; }

    public ReadOnlySpan<byte> Line => _line;

    public Digest Hash { get; }

    /// <summary>The order of leaves in their tree: negative where the first comes first.</summary>
    public static int Compare(EventLeaf first, EventLeaf second)
    {
        var byTime = first.At.CompareTo(second.At);
        return byTime != 0 ? byTime : first.Line.SequenceCompareTo(second.Line);
    }
}
