using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Proof;

/// <summary>The proof of integrity: days that are over are sealed, so that a later change shows.</summary>
/// <remarks>It stands in a folder beside the store whose name ends in <c>.proof</c>: a log for each machine, and the key that signs them.</remarks>
public sealed record EvidenceOptions : ICheckedOptions
{
    /// <summary>True: every UTC day is sealed an hour after its end. False: recordings and reports carry no proof of what is stored from here on.</summary>
    public bool Enabled { get; init; } = true;

    /// <summary>Address of a time-stamping authority (RFC 3161, over HTTP); null: none is asked. It learns a hash and nothing else, and vouches that the hash existed at its time.</summary>
    public string? TimestampUrl { get; init; }

    /// <summary>Certificates (PEM) that may vouch for the authority; null: its tokens are kept without asking who it is.</summary>
    public string? TimestampCaFile { get; init; }

    /// <summary>Longest wait for the authority, in seconds. Default 20. It delays no sealing: what fails is asked for again an hour later.</summary>
    [Range(1, 300)]
    public double TimestampSeconds { get; init; } = 20;

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (TimestampUrl is not null && !(Uri.TryCreate(TimestampUrl, UriKind.Absolute, out var uri) && uri.Scheme is "http" or "https"))
            yield return new("timestampUrl", $"'{TimestampUrl}' is no address of HTTP", "write one that begins with http:// or https://, or leave the key out");
        if (TimestampCaFile is not null && TimestampUrl is null)
            yield return new("timestampCaFile", "there is no authority to vouch for", "add the key 'timestampUrl', or leave this one out");
    }
}
