using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace LaserWatch.Delivery;

/// <summary>HTTP Message Signatures with a shared secret (RFC 9421, <c>hmac-sha256</c>), and the digest of a content (RFC 9530).</summary>
/// <remarks>By hand, twenty lines: the base library has the HMAC, and no text to put under it. The values given must be as they go over the wire: header values trimmed, in one line.</remarks>
internal static class MessageSignature
{
    /// <summary>The value of <c>Content-Digest</c>.</summary>
    public static string ContentDigest(ReadOnlySpan<byte> content) => $"sha-256=:{Convert.ToBase64String(SHA256.HashData(content))}:";

    /// <summary>What is signed: a line for each component, and last the parameters.</summary>
    public static string Base(IReadOnlyList<(string Component, string Value)> components, string parameters)
    {
        var text = new StringBuilder();
        foreach (var (component, value) in components)
            text.Append(CultureInfo.InvariantCulture, $"\"{component}\": {value}\n");
        return text.Append("\"@signature-params\": ").Append(parameters).ToString();
    }

    /// <summary>The parameters: which components in which order, when, by which key.</summary>
    /// <param name="namesAlgorithm">Whether the algorithm stands among them; the key settles it in any case.</param>
    public static string Parameters(IReadOnlyList<(string Component, string Value)> components, DateTimeOffset created, string keyId, bool namesAlgorithm = true) =>
        string.Create(CultureInfo.InvariantCulture,
            $"({string.Join(' ', components.Select(c => $"\"{c.Component}\""))});created={created.ToUnixTimeSeconds()};keyid=\"{keyId}\"{(namesAlgorithm ? ";alg=\"hmac-sha256\"" : "")}");

    public static string Sign(ReadOnlySpan<byte> secret, string signatureBase) =>
        Convert.ToBase64String(HMACSHA256.HashData(secret, Encoding.UTF8.GetBytes(signatureBase)));
}
