using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Delivery;

/// <summary>An HTTP address that alarms are posted to as JSON, signed where a secret is given.</summary>
public sealed record WebhookOptions : OutletOptions
{
    /// <summary>Where to, as in <c>https://shop.example/alarms</c>.</summary>
    public required string Url { get; init; }

    /// <summary>Where the secret stands that receiver and agent share: each request is then signed (RFC 9421, hmac-sha256). null: not signed.</summary>
    public Secret? Secret { get; init; }

    /// <summary>What the signature calls the key. null: the webhook's own name.</summary>
    [RegularExpression("[ !#-\\[\\]-~]{1,128}", ErrorMessage = "use 1 to 128 printable ASCII characters without '\"' and '\\'")]
    public string? KeyId { get; init; }

    /// <summary>Where a token stands that is sent as <c>Authorization: Bearer</c>. null: none.</summary>
    public Secret? Token { get; init; }

    /// <summary>Certificates (PEM) that may vouch for an https receiver; null: those of the operating system.</summary>
    public string? CaFile { get; init; }

    /// <summary>Seconds that one request may take. Default 10. Lower: a hanging receiver holds up what comes after it for less; too low breaks off slow ones, which then get it twice.</summary>
    [Range(1, 300)]
    public int TimeoutSeconds { get; init; } = 10;

    public override IEnumerable<OptionMistake> Mistakes()
    {
        foreach (var wrong in base.Mistakes())
            yield return wrong;
        var isUrl = Uri.TryCreate(Url, UriKind.Absolute, out var url) && url.Scheme is "http" or "https";
        if (!isUrl)
            yield return new("url", $"'{Url}' is not an HTTP address", "write it as in \"https://shop.example/alarms\"");
        else if (url!.UserInfo.Length > 0 || url.Fragment.Length > 0)
            yield return new("url", "a user or a fragment does not belong to the address", "write the address alone; a token has its own key");
        if (isUrl && url!.Scheme == "http" && !url.IsLoopback && Token is not null)
            yield return new("token", "over http anybody on the way could read it", "write https in 'url', or sign by 'secret' instead");
        if (isUrl && url!.Scheme == "http" && CaFile is not null)
            yield return new("caFile", "certificates are named, but the address is not https", "write https in 'url', or take the file out");
    }

    internal WebhookOptions RelativeTo(string folder) => this with
    {
        Secret = Placed(Secret, folder),
        Token = Placed(Token, folder),
        CaFile = CaFile is null ? null : Path.GetFullPath(CaFile, folder),
    };

    internal static Secret? Placed(Secret? secret, string folder) =>
        secret?.File is null ? secret : secret with { File = Path.GetFullPath(secret.File, folder) };
}
