using System.Diagnostics.CodeAnalysis;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;

namespace LaserWatch.Proof;

/// <summary>What a day was sealed as, or sealed again as.</summary>
/// <param name="Kind">Always <c>day</c>.</param>
/// <param name="Number">Its place in the machine's log, from 0.</param>
/// <param name="Revision">0 for the first sealing of the day.</param>
/// <param name="Samples">The tree over <see cref="SampleLeaves"/>; counts are samples by channel.</param>
/// <param name="Events">The tree over the day's job runs, service events and alarms, each an <see cref="EventLeaf"/>; counts by measurement.</param>
/// <param name="Records">The tree over the job records of the day, alike.</param>
/// <param name="Sealed">When, RFC 3339.</param>
/// <param name="Replaces">The number of the entry that this one replaces; null for a first sealing.</param>
/// <param name="Why">In plain words, what had come since; null for a first sealing.</param>
/// <remarks>
/// A log line is one JSON object with the keys in this order and no spaces; its bytes in UTF-8, without the line end, are the content of a leaf of
/// the log's own Merkle tree. So an entry vouches for its three trees, and the log's root for all entries.
/// </remarks>
public sealed record DayEntry(
    string Kind, int Number, string Machine, DateOnly Day, int Revision, SealedTree Samples, SealedTree Events, SealedTree Records,
    string Sealed, int? Replaces = null, string? Why = null)
{
    public const string KindName = "day";
}

/// <param name="Leaves">Leaves of the tree.</param>
/// <param name="Counts">What it holds, by name; written in ordinal order.</param>
public sealed record SealedTree(int Leaves, Digest Root, Dictionary<string, long> Counts)
{
    [JsonIgnore]
    public long Total => Counts.Values.Sum();

    public long Count(string name) => Counts.GetValueOrDefault(name);
}

/// <summary>The signed state of a log: the root over its first entries.</summary>
/// <param name="Kind">Always <c>head</c>.</param>
/// <param name="Size">Entries.</param>
/// <param name="At">When it was signed, RFC 3339.</param>
/// <param name="Key">The public key, SubjectPublicKeyInfo in base64.</param>
/// <param name="Signature">ECDSA with SHA-256 over <see cref="TextToSign"/>, DER in base64.</param>
public sealed record LogHead(string Kind, string Machine, int Size, Digest Root, string At, string Key, string Signature)
{
    public const string KindName = "head";

    /// <summary>The bytes that are signed: five lines, each ended by a line feed.</summary>
    public static byte[] TextToSign(string machine, int size, Digest root, string at) =>
        Encoding.UTF8.GetBytes($"laserwatch log head 1\n{machine}\n{size}\n{root}\n{at}\n");

    public static LogHead Sign(SigningKey key, string machine, int size, Digest root, string at) => new(
        KindName, machine, size, root, at, Convert.ToBase64String(key.PublicKey), Convert.ToBase64String(key.Sign(TextToSign(machine, size, root, at))));

    /// <summary>True where the signature is that of the key which the head names.</summary>
    public bool Holds() => LogJson.TryBase64(Key, out var key) && LogJson.TryBase64(Signature, out var signature)
        && SigningKey.Verifies(key, TextToSign(Machine, Size, Root, At), signature);

    public string Fingerprint() => LogJson.TryBase64(Key, out var key) ? SigningKey.FingerprintOf(key) : "";
}

/// <summary>A time-stamp token (RFC 3161) over a head.</summary>
/// <param name="Kind">Always <c>stamp</c>.</param>
/// <param name="Head">SHA-256 of the head's line in UTF-8 without its line end: what the authority vouches for.</param>
/// <param name="Token">The token, DER in base64.</param>
public sealed record LogStamp(string Kind, Digest Head, string Token)
{
    public const string KindName = "stamp";
}

/// <summary>The one spelling of each line: keys in order, no spaces. What is not spelled so is refused, so that no byte of a proof can change unseen.</summary>
internal static class LogJson
{
    private static readonly LogTypes Types = new(new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.SnakeCaseLower,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
        RespectNullableAnnotations = true,
        RespectRequiredConstructorParameters = true,
        Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
        Converters = { new DigestConverter() },
    });

    public static string Write<T>(T line) => JsonSerializer.Serialize(line, Of<T>());

    public static bool TryRead<T>(ReadOnlySpan<byte> line, [NotNullWhen(true)] out T? value)
        where T : class
    {
        value = null;
        try
        {
            value = JsonSerializer.Deserialize(line, Of<T>());
        }
        catch (JsonException)
        {
            return false;
        }

        if (value is not null && JsonSerializer.SerializeToUtf8Bytes(value, Of<T>()).AsSpan().SequenceEqual(line))
            return true;
        value = null;
        return false;
    }

    public static bool IsKind(ReadOnlySpan<byte> line, string kind) => line.StartsWith(Encoding.UTF8.GetBytes($"{{\"kind\":\"{kind}\","));

    /// <summary>Base64 in its one spelling.</summary>
    public static bool TryBase64(string text, [NotNullWhen(true)] out byte[]? bytes)
    {
        bytes = null;
        var place = new byte[((text.Length + 3) / 4) * 3];
        if (!Convert.TryFromBase64String(text, place, out var length) || Convert.ToBase64String(place.AsSpan(0, length)) != text)
            return false;
        bytes = place[..length];
        return true;
    }

    private static JsonTypeInfo<T> Of<T>() => (JsonTypeInfo<T>)Types.Options.GetTypeInfo(typeof(T));

    private sealed class DigestConverter : JsonConverter<Digest>
    {
        public override Digest Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
            Digest.TryParse(reader.GetString(), out var digest) ? digest : throw new JsonException("not a SHA-256 in hex");

        public override void Write(Utf8JsonWriter writer, Digest value, JsonSerializerOptions options) => writer.WriteStringValue(value.ToString());
    }
}

/// <summary>A new kind of line or of part needs its own line here.</summary>
[JsonSourceGenerationOptions(GenerationMode = JsonSourceGenerationMode.Metadata)]
[JsonSerializable(typeof(DayEntry))]
[JsonSerializable(typeof(LogHead))]
[JsonSerializable(typeof(LogStamp))]
[JsonSerializable(typeof(PageSeal))]
[JsonSerializable(typeof(ProofBegin))]
[JsonSerializable(typeof(ProofDay))]
[JsonSerializable(typeof(ProofLeaves))]
[JsonSerializable(typeof(ProofEnd))]
internal sealed partial class LogTypes : JsonSerializerContext;
