using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;

namespace LaserWatch.Delivery;

/// <summary>A receiver's side of RFC 9421 and RFC 9530, written from the standards and not from the sender.</summary>
internal static partial class SignedPost
{
    /// <summary>The key's name, where signature and digest hold and cover what they must.</summary>
    /// <exception cref="InvalidDataException">They do not.</exception>
    public static string Verify(Post post, string secret)
    {
        var digest = "sha-256=:" + Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(post.Body))) + ":";
        if (post.Headers["content-digest"] != digest)
            throw new InvalidDataException("The content is not what the digest says.");

        var input = Input().Match(post.Headers["signature-input"]);
        var components = input.Groups["components"].Value.Split(' ').Select(c => c.Trim('"')).ToList();
        foreach (var needed in new[] { "@method", "@target-uri", "content-digest", "idempotency-key" })
        {
            if (!components.Contains(needed))
                throw new InvalidDataException($"{needed} is not signed.");
        }

        var lines = components.Select(c => $"\"{c}\": {Value(post, c)}").Append($"\"@signature-params\": {input.Groups["parameters"].Value}");
        using var hmac = new HMACSHA256(Encoding.UTF8.GetBytes(secret));
        var expected = $"{input.Groups["label"].Value}=:{Convert.ToBase64String(hmac.ComputeHash(Encoding.UTF8.GetBytes(string.Join('\n', lines))))}:";
        if (post.Headers["signature"] != expected)
            throw new InvalidDataException("The signature is not this secret's.");
        return input.Groups["key"].Value;
    }

    private static string Value(Post post, string component) => component switch
    {
        "@method" => post.Method,
        "@target-uri" => post.Url,
        _ => post.Headers[component],
    };

    [GeneratedRegex("""^(?<label>[a-z0-9_-]+)=(?<parameters>\((?<components>[^)]*)\);created=[0-9]+;keyid="(?<key>[^"]*)";alg="hmac-sha256")$""")]
    private static partial Regex Input();
}
