using System.Numerics;
using System.Security.Cryptography;

namespace LaserWatch.Proof;

/// <summary>The Merkle tree of RFC 6962, section 2.1, over SHA-256.</summary>
/// <remarks>
/// A leaf is hashed behind a byte 0, a node behind a byte 1; a list of n leaves is split at the largest power of two below n. The
/// proofs of one leaf and of growth are those of the RFC; the proof of a range is ours: the hashes of all subtrees that hold no leaf of
/// the range, from left to right. Checking never throws, whatever it is given.
/// </remarks>
public static class MerkleTree
{
    /// <summary>The root of no leaves: the hash of nothing.</summary>
    public static readonly Digest Empty = Digest.Of([]);

    public static Digest HashLeaf(ReadOnlySpan<byte> content)
    {
        var prefixed = new byte[content.Length + 1];
        content.CopyTo(prefixed.AsSpan(1));
        return Digest.Of(prefixed);
    }

    public static Digest HashNode(Digest left, Digest right)
    {
        Span<byte> node = stackalloc byte[1 + (2 * Digest.Length)];
        node[0] = 1;
        left.CopyTo(node[1..]);
        right.CopyTo(node[(1 + Digest.Length)..]);
        Span<byte> hash = stackalloc byte[Digest.Length];
        SHA256.HashData(node, hash);
        return new Digest(hash);
    }

    /// <param name="leaves">The hashes of the leaves.</param>
    public static Digest Root(ReadOnlySpan<Digest> leaves)
    {
        if (leaves.Length <= 1)
            return leaves.IsEmpty ? Empty : leaves[0];
        var split = SplitOf(leaves.Length);
        return HashNode(Root(leaves[..split]), Root(leaves[split..]));
    }

    /// <summary>The root of leaves that carry more than their hash, without a list of the hashes alone.</summary>
    public static Digest Root<T>(IReadOnlyList<T> leaves, Func<T, Digest> hashOf)
    {
        return leaves.Count == 0 ? Empty : RootOf(0, leaves.Count);

        Digest RootOf(int first, int count)
        {
            if (count == 1)
                return hashOf(leaves[first]);
            var split = SplitOf(count);
            return HashNode(RootOf(first, split), RootOf(first + split, count - split));
        }
    }

    /// <summary>The audit path of a leaf, from the leaf upwards (2.1.1).</summary>
    /// <exception cref="ArgumentOutOfRangeException">There is no such leaf.</exception>
    public static IReadOnlyList<Digest> InclusionProof(ReadOnlySpan<Digest> leaves, int index)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(index);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(index, leaves.Length);
        var path = new List<Digest>();
        while (leaves.Length > 1)
        {
            var split = SplitOf(leaves.Length);
            if (index < split)
            {
                path.Add(Root(leaves[split..]));
                leaves = leaves[..split];
            }
            else
            {
                path.Add(Root(leaves[..split]));
                leaves = leaves[split..];
                index -= split;
            }
        }

        path.Reverse();
        return path;
    }

    /// <summary>True where the path leads from the leaf at that place to the root of a tree of that size.</summary>
    public static bool Includes(Digest root, int size, int index, Digest leaf, IReadOnlyList<Digest> proof)
    {
        if (index < 0 || index >= size)
            return false;
        var taken = 0;
        return RootAbove(size, index) == root && taken == proof.Count;

        Digest? RootAbove(int leaves, int place)
        {
            if (leaves == 1)
                return leaf;
            var split = SplitOf(leaves);
            var own = place < split ? RootAbove(split, place) : RootAbove(leaves - split, place - split);
            if (own is not { } side || taken == proof.Count)
                return null;
            var other = proof[taken++];
            return place < split ? HashNode(side, other) : HashNode(other, side);
        }
    }

    /// <summary>That the tree of the first <paramref name="earlier"/> leaves has only grown (2.1.2).</summary>
    /// <exception cref="ArgumentOutOfRangeException">The earlier tree has no leaf, or more than there are.</exception>
    public static IReadOnlyList<Digest> ConsistencyProof(ReadOnlySpan<Digest> leaves, int earlier)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(earlier, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(earlier, leaves.Length);
        var proof = new List<Digest>();
        AddGrowth(leaves, earlier, whole: true, proof);
        return proof;
    }

    /// <summary>True where the proof shows that the later tree begins with all of the earlier one.</summary>
    public static bool Extends(Digest earlierRoot, int earlier, Digest laterRoot, int later, IReadOnlyList<Digest> proof)
    {
        if (earlier < 1 || earlier > later)
            return false;
        var taken = 0;
        return Grow(earlier, later, whole: true) is { } roots && roots == (earlierRoot, laterRoot) && taken == proof.Count;

        // Both roots of a subtree: over its leaves of the earlier tree, and over all.
        (Digest Earlier, Digest Later)? Grow(int before, int leaves, bool whole)
        {
            if (before == leaves)
            {
                if (whole)
                    return (earlierRoot, earlierRoot);
                return Next() is { } same ? (same, same) : null;
            }

            var split = SplitOf(leaves);
            if (before <= split)
                return Grow(before, split, whole) is { } left && Next() is { } right ? (left.Earlier, HashNode(left.Later, right)) : null;
            return Grow(before - split, leaves - split, whole: false) is { } grown && Next() is { } full
                ? (HashNode(full, grown.Earlier), HashNode(full, grown.Later))
                : null;
        }

        Digest? Next() => taken < proof.Count ? proof[taken++] : null;
    }

    /// <summary>The hashes of what lies outside the leaves from <paramref name="first"/> (included) to <paramref name="last"/> (not included).</summary>
    /// <exception cref="ArgumentOutOfRangeException">The range is empty, or not within the leaves.</exception>
    public static IReadOnlyList<Digest> RangeProof(ReadOnlySpan<Digest> leaves, int first, int last)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(first);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(first, last);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(last, leaves.Length);
        var rest = new List<Digest>();
        AddOutside(leaves, first, last, rest);
        return rest;
    }

    /// <summary>The root that the leaves of a range and the hashes of the rest give; null where there are too few or too many of these.</summary>
    /// <param name="size">The leaves of the whole tree.</param>
    public static Digest? RootOfRange(ReadOnlySpan<Digest> range, int first, int size, IReadOnlyList<Digest> rest)
    {
        if (range.IsEmpty || first < 0 || first > size - range.Length)
            return null;
        var taken = 0;
        var root = Join(range, first, size, rest, ref taken);
        return taken == rest.Count ? root : null;
    }

    private static void AddGrowth(ReadOnlySpan<Digest> leaves, int earlier, bool whole, List<Digest> proof)
    {
        if (earlier == leaves.Length)
        {
            if (!whole)
                proof.Add(Root(leaves));
            return;
        }

        var split = SplitOf(leaves.Length);
        if (earlier <= split)
        {
            AddGrowth(leaves[..split], earlier, whole, proof);
            proof.Add(Root(leaves[split..]));
        }
        else
        {
            AddGrowth(leaves[split..], earlier - split, whole: false, proof);
            proof.Add(Root(leaves[..split]));
        }
    }

    private static void AddOutside(ReadOnlySpan<Digest> leaves, int first, int last, List<Digest> rest)
    {
        if (first <= 0 && last >= leaves.Length)
            return;
        if (last <= 0 || first >= leaves.Length)
        {
            rest.Add(Root(leaves));
            return;
        }

        var split = SplitOf(leaves.Length);
        AddOutside(leaves[..split], first, last, rest);
        AddOutside(leaves[split..], first - split, last - split, rest);
    }

    /// <param name="first">Where the range begins, counted from the subtree's first leaf; negative where it began before.</param>
    private static Digest? Join(ReadOnlySpan<Digest> range, int first, int size, IReadOnlyList<Digest> rest, ref int taken)
    {
        var last = first + range.Length;
        if (last <= 0 || first >= size)
            return taken < rest.Count ? rest[taken++] : null;
        if (first <= 0 && last >= size)
            return Root(range.Slice(-first, size));
        var split = SplitOf(size);
        var left = Join(range, first, split, rest, ref taken);
        var right = Join(range, first - split, size - split, rest, ref taken);
        return left is { } l && right is { } r ? HashNode(l, r) : null;
    }

    /// <summary>The largest power of two below the number, which is 2 or more.</summary>
    private static int SplitOf(int size) => 1 << (BitOperations.Log2((uint)size - 1));
}
