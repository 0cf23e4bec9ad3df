namespace LaserWatch.Recordings;

/// <summary>Lets a dictionary keyed by bytes be asked with a span of them.</summary>
internal sealed class Utf8KeyComparer : IEqualityComparer<byte[]>, IAlternateEqualityComparer<ReadOnlySpan<byte>, byte[]>
{
    public static readonly Utf8KeyComparer Ordinal = new();

    public bool Equals(byte[]? x, byte[]? y) => x.AsSpan().SequenceEqual(y);

    public bool Equals(ReadOnlySpan<byte> alternate, byte[] other) => alternate.SequenceEqual(other);

    public int GetHashCode(byte[] obj) => GetHashCode(obj.AsSpan());

    public int GetHashCode(ReadOnlySpan<byte> alternate)
    {
        var hash = default(HashCode);
        hash.AddBytes(alternate);
        return hash.ToHashCode();
    }

    public byte[] Create(ReadOnlySpan<byte> alternate) => alternate.ToArray();
}
