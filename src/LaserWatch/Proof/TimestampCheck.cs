using System.Security.Cryptography;
using System.Security.Cryptography.Pkcs;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Alarms;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>What a time-stamp token says.</summary>
/// <param name="At">The time the authority gives; null where the token does not hold.</param>
/// <param name="Authority">The subject of its certificate, as it names itself.</param>
/// <param name="Trusted">True where certificates that the reader trusts vouch for it; null where none were named.</param>
/// <param name="Wrong">What does not hold, in words; null where all does.</param>
public sealed record TimestampFinding(Instant? At, string? Authority, bool? Trusted, string? Wrong)
{
    public override string ToString() => Wrong is not null
        ? $"the time-stamp token does not hold: {Wrong}"
        : $"a token of '{Authority}' says {Rfc3339.Format(At!.Value)}" + Trusted switch
        {
            true => ", vouched for by the certificates given",
            null => "; its signature holds, but who that authority is, and whether to trust it, is for the reader to judge",
            false => "", // stands in Wrong
        };
}

/// <summary>Checks a token against what it is said to stamp.</summary>
internal static class TimestampCheck
{
    /// <param name="authorities">Certificates that may vouch for the authority; null: its name is told, and not judged.</param>
    public static TimestampFinding Check(byte[] token, ReadOnlySpan<byte> stamped, X509Certificate2Collection? authorities)
    {
        try
        {
            if (!Rfc3161TimestampToken.TryDecode(token, out var parsed, out var taken) || taken != token.Length)
                return new(null, null, null, "it is no token of RFC 3161");
            if (!parsed.VerifySignatureForData(stamped, out var signer))
                return new(null, null, null, "its signature is not over this head of the log");
            var at = Instant.From(parsed.TokenInfo.Timestamp);
            if (authorities is null)
                return new(at, signer.Subject, null, null);
            return ChainMistake(signer, parsed, authorities) is { } wrong
                ? new(null, signer.Subject, false, $"'{signer.Subject}' is not vouched for by the certificates given ({wrong})")
                : new(at, signer.Subject, true, null);
        }
        catch (Exception e) when (e is CryptographicException or OverflowException)
        {
            return new(null, null, null, e.Message);
        }
    }

    private static string? ChainMistake(X509Certificate2 signer, Rfc3161TimestampToken token, X509Certificate2Collection authorities)
    {
        using var chain = new X509Chain();
        chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        chain.ChainPolicy.CustomTrustStore.AddRange(authorities);
        chain.ChainPolicy.ExtraStore.AddRange(token.AsSignedCms().Certificates);
        chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck; // offline; a report must verify years later
        chain.ChainPolicy.VerificationTime = token.TokenInfo.Timestamp.UtcDateTime;
        chain.ChainPolicy.ApplicationPolicy.Add(new Oid("1.3.6.1.5.5.7.3.8")); // id-kp-timeStamping, RFC 3161 2.3
        return chain.Build(signer) ? null : string.Join("; ", chain.ChainStatus.Select(status => status.StatusInformation.TrimEnd('.', ' ', '\n')));
    }
}
