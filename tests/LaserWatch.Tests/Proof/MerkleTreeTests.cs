using CsCheck;

namespace LaserWatch.Proof;

public class MerkleTreeTests
{
    // The leaves of the published vectors, from the column of the longest root.
    private static readonly byte[][] Inputs = [.. "|00|10|2021|3031|40414243|5051525354555657|606162636465666768696a6b6c6d6e6f".Split('|').Select(Convert.FromHexString)];

    private static readonly Digest[] Leaves = [.. Inputs.Select(input => MerkleTree.HashLeaf(input))];

    private static readonly Gen<Digest[]> SomeLeaves = Gen.ULong.Array[1, 40].Select(numbers => numbers.Select(n => MerkleTree.HashLeaf(BitConverter.GetBytes(n))).ToArray());

    public static TheoryData<string, string, string> Published()
    {
        var rows = new TheoryData<string, string, string>();
        foreach (var line in File.ReadLines(Path.Combine(AppContext.BaseDirectory, "Proof", "merkle-rfc6962.csv")).Skip(1))
        {
            var cells = line.Split(',');
            rows.Add(cells[0], cells[1], cells[2]);
        }

        return rows;
    }

    [Theory]
    [MemberData(nameof(Published))]
    public void The_published_vectors_come_out(string item, string input, string value)
    {
        var words = item.Split(' ');
        var result = words[0] switch
        {
            "empty_tree_root" => MerkleTree.Root([]).ToString(),
            "leaf_hash" => MerkleTree.HashLeaf(Convert.FromHexString(input)).ToString(),
            "node_hash" => NodeOf(input),
            "inclusion_proof" => Joined(MerkleTree.InclusionProof(Leaves.AsSpan(0, After(words[2])), After(words[1]))),
            "consistency_proof" => Joined(MerkleTree.ConsistencyProof(Leaves.AsSpan(0, int.Parse(words[1].Split("->")[1])), int.Parse(words[1].Split("->")[0]))),
            _ when words[0].StartsWith("root_n=", StringComparison.Ordinal) => MerkleTree.Root(Leaves.AsSpan(0, After(words[0]))).ToString(),
            _ => throw new InvalidOperationException(item),
        };

        Assert.Equal(value, result);

        static int After(string word) => int.Parse(word.Split('=')[1]);
        static string Joined(IReadOnlyList<Digest> proof) => string.Join('|', proof);

        // RFC 6962's node hash is over two hashes; the vector's are four letters each, so it is computed as the text has it.
        static string NodeOf(string parts) => Digest.Of([1, .. Convert.FromHexString(parts.Replace("|", "", StringComparison.Ordinal))]).ToString();
    }

    [Fact]
    public void A_node_is_hashed_behind_a_one()
    {
        byte[] node = [1, .. Leaves[0].ToArray(), .. Leaves[1].ToArray()];

        Assert.Equal(Digest.Of(node), MerkleTree.HashNode(Leaves[0], Leaves[1]));
    }

    [Fact]
    public void The_root_of_leaves_that_carry_more_is_that_of_their_hashes()
    {
        for (var size = 0; size <= Leaves.Length; size++)
        {
            var carried = Leaves.Take(size).Select(leaf => (Leaf: leaf, More: "")).ToList();

            Assert.Equal(MerkleTree.Root(Leaves.AsSpan(0, size)), MerkleTree.Root(carried, entry => entry.Leaf));
        }
    }

    [Fact]
    public void Every_leaf_is_shown_to_be_in_the_tree_and_in_no_other_place_or_tree() => SomeLeaves.Select(Gen.Int[0, 39], Gen.Int[0, 255]).Sample((leaves, at, bit) =>
    {
        var index = at % leaves.Length;
        var (root, size) = (MerkleTree.Root(leaves), leaves.Length);
        var proof = MerkleTree.InclusionProof(leaves, index).ToArray();

        Assert.True(MerkleTree.Includes(root, size, index, leaves[index], proof));
        Assert.False(MerkleTree.Includes(Flipped(root, bit), size, index, leaves[index], proof));
        Assert.False(MerkleTree.Includes(root, size, index, Flipped(leaves[index], bit), proof));
        Assert.False(MerkleTree.Includes(root, size, index, leaves[index], [.. proof, root]));
        Assert.False(MerkleTree.Includes(root, size, size, leaves[index], proof));
        Assert.False(MerkleTree.Includes(root, size, -1, leaves[index], proof));
        Assert.False(MerkleTree.Includes(root, 2 * size, index, leaves[index], proof));
        if (proof.Length == 0)
            return;
        Assert.False(MerkleTree.Includes(root, size, index, leaves[index], proof[1..]));
        proof[at % proof.Length] = Flipped(proof[at % proof.Length], bit);
        Assert.False(MerkleTree.Includes(root, size, index, leaves[index], proof));
    });

    [Fact]
    public void A_log_that_only_grew_is_told_from_any_other() => SomeLeaves.Select(Gen.Int[0, 39], Gen.Int[0, 255]).Sample((leaves, at, bit) =>
    {
        var earlier = 1 + (at % leaves.Length);
        var (before, after, size) = (MerkleTree.Root(leaves.AsSpan(0, earlier)), MerkleTree.Root(leaves), leaves.Length);
        var proof = MerkleTree.ConsistencyProof(leaves, earlier).ToArray();

        Assert.True(MerkleTree.Extends(before, earlier, after, size, proof));
        Assert.False(MerkleTree.Extends(Flipped(before, bit), earlier, after, size, proof));
        Assert.False(MerkleTree.Extends(before, earlier, Flipped(after, bit), size, proof));
        Assert.False(MerkleTree.Extends(before, earlier, after, size, [.. proof, after]));
        Assert.False(MerkleTree.Extends(before, 0, after, size, proof));
        Assert.False(MerkleTree.Extends(before, size + 1, after, size, proof));
        for (var i = 0; i < proof.Length; i++)
        {
            var wrong = proof.ToArray();
            wrong[i] = Flipped(wrong[i], bit);
            Assert.False(MerkleTree.Extends(before, earlier, after, size, wrong));
            Assert.False(MerkleTree.Extends(before, earlier, after, size, proof[..i]));
        }
    });

    [Fact]
    public void A_range_leads_to_the_root_from_its_own_place_only() => SomeLeaves.Select(Gen.Int[0, 39], Gen.Int[0, 39], Gen.Int[0, 255]).Sample((leaves, a, b, bit) =>
    {
        var first = a % leaves.Length;
        var last = first + 1 + (b % (leaves.Length - first));
        var (root, size, range) = (MerkleTree.Root(leaves), leaves.Length, leaves[first..last]);
        var rest = MerkleTree.RangeProof(leaves, first, last).ToArray();

        Assert.Equal(root, MerkleTree.RootOfRange(range, first, size, rest));
        Assert.Null(MerkleTree.RootOfRange(range, first, size, [.. rest, root]));
        Assert.Null(MerkleTree.RootOfRange([], first, size, rest));
        Assert.Null(MerkleTree.RootOfRange(range, -1, size, rest));
        Assert.Null(MerkleTree.RootOfRange(range, size, size, rest));
        for (var i = 0; i < range.Length; i++)
        {
            var wrong = range.ToArray();
            wrong[i] = Flipped(wrong[i], bit);
            Assert.NotEqual(root, MerkleTree.RootOfRange(wrong, first, size, rest));
        }

        for (var i = 0; i < rest.Length; i++)
        {
            var wrong = rest.ToArray();
            wrong[i] = Flipped(wrong[i], bit);
            Assert.NotEqual(root, MerkleTree.RootOfRange(range, first, size, wrong));
            Assert.NotEqual(root, MerkleTree.RootOfRange(range, first, size, rest[..i]));
        }

        if (range.Length > 1)
            Assert.NotEqual(root, MerkleTree.RootOfRange([.. range[1..], range[0]], first, size, rest));
        if (first + 1 + range.Length <= size && rest.Length > 0)
            Assert.NotEqual(root, MerkleTree.RootOfRange(range, first + 1, size, rest));
    });

    [Fact]
    public void A_range_of_one_leaf_has_the_hashes_of_its_audit_path() => SomeLeaves.Select(Gen.Int[0, 39]).Sample((leaves, at) =>
    {
        var index = at % leaves.Length;

        Assert.Equal(
            MerkleTree.InclusionProof(leaves, index).Select(hash => hash.ToString()).Order(),
            MerkleTree.RangeProof(leaves, index, index + 1).Select(hash => hash.ToString()).Order());
    });

    private static Digest Flipped(Digest digest, int bit)
    {
        var bytes = digest.ToArray();
        bytes[bit / 8] ^= (byte)(1 << (bit % 8));
        return new Digest(bytes);
    }
}
