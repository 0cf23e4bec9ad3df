using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Storage.Influx;

/// <summary>InfluxDB as the store. What only the agent needs, and what the server has not taken yet, stays in the file of <c>store.path</c>.</summary>
public sealed record InfluxOptions : ICheckedOptions
{
    /// <summary>The server, as in <c>https://influx.shop.example:8086</c>.</summary>
    public required string Url { get; init; }

    /// <summary>The bucket. Its retention period is how long samples, events and alarms are kept; the days under <c>store</c> then say it of lost time only.</summary>
    public required string Bucket { get; init; }

    /// <summary>The organisation that the bucket belongs to.</summary>
    [Required]
    public string Organisation { get; init; } = "laserwatch";

    /// <summary>Where the token stands; it must be allowed to read and to write the bucket. null: none, for a server that asks for none.</summary>
    public Secret? Token { get; init; }

    /// <summary>Certificates (PEM) that may vouch for an https server; null: those of the operating system.</summary>
    public string? CaFile { get; init; }

    /// <summary>Lines that are sent in one request, and that are sent without waiting for the interval. Default 5000. More: fewer requests, and more to send again where one fails.</summary>
    [Range(1, 100_000)]
    public int BatchLines { get; init; } = 5000;

    /// <summary>Shortest time between two requests, in milliseconds. Default 1000. More spares the server; what waits is safe in the spool, and is read from there.</summary>
    [Range(0, 600_000)]
    public int IntervalMs { get; init; } = 1000;

    /// <summary>True: requests are packed by gzip, to about a tenth. False spares the agent's processor.</summary>
    public bool Gzip { get; init; } = true;

    /// <summary>Seconds that one request may take. Default 30. Less: a hanging server is noticed sooner; too little breaks off long queries.</summary>
    [Range(1, 600)]
    public int TimeoutSeconds { get; init; } = 30;

    /// <summary>
    /// Megabytes of lines that may wait for a server that is away. Default 1024: one machine with eight channels at one sample a second
    /// makes some 40 a day. When it is full nothing more is acknowledged: the broker keeps what was sent at QoS 1, and the rest is lost and stored as a gap.
    /// </summary>
    [Range(1, 1_000_000)]
    public int SpoolMegabytes { get; init; } = 1024;

    public IEnumerable<OptionMistake> Mistakes()
    {
        var isUrl = Uri.TryCreate(Url, UriKind.Absolute, out var url) && url.Scheme is "http" or "https";
        if (!isUrl)
            yield return new("url", $"'{Url}' is not the address of a server", "write it as in \"http://127.0.0.1:8086\" or \"https://influx.shop.example\"");
        else if (url!.UserInfo.Length > 0 || url.Query.Length > 0 || url.Fragment.Length > 0)
            yield return new("url", "a user, a query or a fragment does not belong to the address", "write the address alone; the token has its own key");
        if (Bucket.Length == 0)
            yield return new("bucket", "empty", "write the bucket's name");
        if (Bucket.Contains('/', StringComparison.Ordinal))
            yield return new("bucket", $"'{Bucket}' has a '/' in it, which parts database and retention policy for the server's queries", "use a bucket without one");
        if (CaFile is not null && isUrl && url!.Scheme == "http")
            yield return new("caFile", "certificates are named, but the address is not https", "write https in 'url', or take the file out");
    }
}
