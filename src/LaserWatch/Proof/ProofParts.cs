namespace LaserWatch.Proof;

/// <summary>How the proof stands in a recording: comment lines at its end, which readers of line protocol pass over.</summary>
/// <remarks>
/// <para><c># laserwatch-proof {…}</c> holds the parts below, one each: a begin; for each day a <see cref="ProofDay"/> and then its <see cref="ProofLeaves"/>;
/// an end. <c># laserwatch-log {…}</c> holds a line of the machine's log: all entries, then the heads, the newest last, and their time stamps.
/// <c># laserwatch-rest LINE</c> is a line of the recording's kind that lies outside its time, but in a minute or among the events of a day that it has in part:
/// without it their hash could not be made.</para>
/// <para>JSON is spelled in one way only (keys in order, no spaces). Base64 and hex likewise. So no byte of it can change unseen.</para>
/// </remarks>
internal static class ProofPrefix
{
    public static ReadOnlySpan<byte> Any => "# laserwatch-"u8;

    public static ReadOnlySpan<byte> Part => "# laserwatch-proof "u8;

    public static ReadOnlySpan<byte> Log => "# laserwatch-log "u8;

    public static ReadOnlySpan<byte> Rest => "# laserwatch-rest "u8;
}

/// <summary>What a proof belongs to.</summary>
internal static class ProofContents
{
    /// <summary>A stretch of time, with everything in it.</summary>
    public const string Recording = "recording";

    /// <summary>Single minutes, taken out of their days.</summary>
    public const string Excerpt = "excerpt";
}

/// <param name="Part">Always <c>begin</c>.</param>
/// <param name="Content">One of <see cref="ProofContents"/>.</param>
internal sealed record ProofBegin(string Part, int Version, string Machine, string Content)
{
    public const string Name = "begin";
    public const int Newest = 1;
}

/// <summary>Which leaves of a sealed day stand here.</summary>
/// <param name="Part">Always <c>day</c>.</param>
/// <param name="Entry">The number of the log's entry.</param>
/// <param name="Leaves">SHA-256 of the day's <see cref="ProofLeaves"/>, put together.</param>
internal sealed record ProofDay(string Part, int Entry, ProofRange Samples, ProofRange Events, ProofRange Records, Digest Leaves)
{
    public const string Name = "day";
}

/// <param name="First">The first leaf of its tree that stands here.</param>
/// <param name="Last">The leaf after the last that does; equal to First where none does.</param>
/// <param name="Rest">What <see cref="MerkleTree.RangeProof"/> gives, 32 bytes each, in base64.</param>
internal sealed record ProofRange(int First, int Last, string Rest)
{
    public static readonly ProofRange None = new(0, 0, "");

    public int Count => Last - First;

    public static ProofRange Of(ReadOnlySpan<Digest> leaves, int first, int last)
    {
        if (first == last)
            return None;
        var rest = MerkleTree.RangeProof(leaves, first, last);
        return new ProofRange(first, last, Convert.ToBase64String([.. rest.SelectMany(hash => hash.ToArray())]));
    }

    /// <summary>True where these leaves stand in the tree at the place that the range gives.</summary>
    public bool Leads(ReadOnlySpan<Digest> leaves, SealedTree tree)
    {
        if (First == Last)
            return First == 0 && Rest.Length == 0 && leaves.IsEmpty;
        if (leaves.Length != Last - First || !LogJson.TryBase64(Rest, out var bytes) || bytes.Length % Digest.Length != 0)
            return false;
        var rest = bytes.Chunk(Digest.Length).Select(hash => new Digest(hash)).ToList();
        return MerkleTree.RootOfRange(leaves, First, tree.Leaves, rest) == tree.Root;
    }
}

/// <summary>A piece of the day's leaf list, for naming the place of a difference; see <see cref="LeafList"/>.</summary>
/// <param name="Part">Always <c>leaves</c>.</param>
/// <param name="Data">Base64; the pieces of a day follow each other.</param>
internal sealed record ProofLeaves(string Part, int Entry, string Data)
{
    public const string Name = "leaves";

    /// <summary>Bytes a piece, so that lines stay short.</summary>
    public const int PieceBytes = 48_000;
}

/// <param name="Part">Always <c>end</c>.</param>
/// <param name="Lines">All lines of the proof, from the begin to this one.</param>
internal sealed record ProofEnd(string Part, int Lines)
{
    public const string Name = "end";
}
