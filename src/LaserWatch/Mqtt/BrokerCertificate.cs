using System.Net.Security;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Configuration;
using MQTTnet;

namespace LaserWatch.Mqtt;

/// <summary>The broker's certificate is not taken.</summary>
public sealed class BrokerCertificateException(string what, string mend) : AuthenticationException($"{what}; {mend}")
{
    public string What { get; } = what;

    public string Mend { get; } = mend;
}

/// <summary>Whether the broker's certificate can be believed; if not, why, and what mends it.</summary>
/// <remarks>The framework knows too, and says "rejected" whatever the reason.</remarks>
internal sealed class BrokerCertificate(ConfiguredTls tls, string host, X509Certificate2Collection? authorities, X509Certificate2? exactly, TimeProvider time)
{
    private const string ForServers = "1.3.6.1.5.5.7.3.1"; // id-kp-serverAuth, RFC 5280, section 4.2.1.12

    /// <summary>The handshake has come so far that the broker showed one, good or not.</summary>
    public bool WasShown { get; private set; }

    /// <summary>True, or the reason as an exception.</summary>
    public bool IsGood(MqttClientCertificateValidationEventArgs args)
    {
        WasShown = true;
        Require(args.Certificate, args.Chain, args.SslPolicyErrors);
        return true;
    }

    /// <param name="shown">The chain that came with it.</param>
    /// <exception cref="BrokerCertificateException">It is not to be believed.</exception>
    private void Require(X509Certificate? certificate, X509Chain? shown, SslPolicyErrors errors)
    {
        if (certificate is not X509Certificate2 broker)
            throw new BrokerCertificateException("the broker shows no certificate", "check that this port speaks TLS");
        if (exactly is not null)
        {
            if (!broker.RawDataMemory.Span.SequenceEqual(exactly.RawDataMemory.Span))
                throw new BrokerCertificateException("the broker's certificate is another one than embeddedBroker.tls.certificateFile", "check that the agent listens at this port, and was started with this configuration");
            return;
        }

        RequireTime(broker);
        RequireAuthority(broker, shown, errors);
        if (errors.HasFlag(SslPolicyErrors.RemoteCertificateNameMismatch))
        {
            throw new BrokerCertificateException(
                $"the broker's certificate is for {Names(broker)}, and not for {host}", "write one of its names in broker.host, or have it made for this one too");
        }
    }

    private void RequireTime(X509Certificate2 broker)
    {
        var now = time.GetUtcNow().UtcDateTime;
        if (broker.NotAfter.ToUniversalTime() < now)
            throw new BrokerCertificateException($"the broker's certificate has expired on {TlsFiles.Day(broker.NotAfter)}", "have it renewed at the broker, and check this machine's clock");
        if (broker.NotBefore.ToUniversalTime() > now)
            throw new BrokerCertificateException($"the broker's certificate is valid from {TlsFiles.Day(broker.NotBefore)} on only", "check this machine's clock");
    }

    private void RequireAuthority(X509Certificate2 broker, X509Chain? shown, SslPolicyErrors errors)
    {
        if (authorities is null)
        {
            if (errors.HasFlag(SslPolicyErrors.RemoteCertificateChainErrors))
                throw NotVouchedFor(broker, shown, "whom this machine does not trust", "if the broker's certificate is of a private authority, name its file in broker.tls.caFile");
            return;
        }

        using var chain = new X509Chain();
        chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        chain.ChainPolicy.CustomTrustStore.AddRange(authorities);
        chain.ChainPolicy.ApplicationPolicy.Add(new(ForServers));

        // Revocation: private authorities publish none, and a shop behind a dead uplink must still reach its own broker.
        chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
        foreach (var element in shown?.ChainElements ?? Enumerable.Empty<X509ChainElement>())
            chain.ChainPolicy.ExtraStore.Add(element.Certificate);
        if (!chain.Build(broker))
            throw NotVouchedFor(broker, chain, $"and {tls.CaFile} does not vouch for it", "name in broker.tls.caFile the certificate of the authority that made the broker's");
    }

    private static BrokerCertificateException NotVouchedFor(X509Certificate2 broker, X509Chain? chain, string but, string mend)
    {
        var why = chain?.ChainStatus.Where(s => s.Status is not (X509ChainStatusFlags.UntrustedRoot or X509ChainStatusFlags.PartialChain))
            .Select(s => s.StatusInformation.TrimEnd('.')).FirstOrDefault();
        return new($"the broker's certificate was made by '{broker.Issuer}', {but}{(why is null ? "" : $" ({why})")}", mend);
    }

    private static string Names(X509Certificate2 broker)
    {
        var names = broker.Extensions.OfType<X509SubjectAlternativeNameExtension>()
            .SelectMany(e => e.EnumerateDnsNames().Concat(e.EnumerateIPAddresses().Select(a => a.ToString()))).ToList();
        return names.Count > 0 ? string.Join(", ", names.Take(5)) : $"no name at all ('{broker.Subject}' does not count)";
    }
}
