using System.Net.Security;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>The embedded broker's certificate, and whom it takes for a client. Files that were replaced count from the next connection on.</summary>
internal sealed class ServerCertificate
{
    private const string Section = "embeddedBroker.tls";
    private const string ForClients = "1.3.6.1.5.5.7.3.2"; // id-kp-clientAuth, RFC 5280, section 4.2.1.12

    private readonly ConfiguredServerTls _options;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Lock _lock = new();
    private SslServerAuthenticationOptions _current;
    private long _stamp;
    private bool _failing;

    /// <exception cref="TlsFileException">A file cannot be used.</exception>
    public ServerCertificate(ConfiguredServerTls options, TimeProvider time, ILogger logger)
    {
        _options = options;
        _time = time;
        _logger = logger;
        _stamp = Stamp();
        _current = Load();
    }

    /// <summary>Looks at all its files, as a start would.</summary>
    /// <exception cref="TlsFileException">A file cannot be used.</exception>
    public static string LastDayOf(ConfiguredServerTls options, TimeProvider time)
    {
        var (own, _) = TlsFiles.Identity(Section, options.CertificateFile, options.KeyFile, time);
        if (options.ClientCaFile is { } file)
            TlsFiles.Authorities(Section + ".clientCaFile", file);
        using (own)
            return TlsFiles.Day(own.NotAfter);
    }

    /// <summary>For the next handshake.</summary>
    public SslServerAuthenticationOptions ForHandshake()
    {
        lock (_lock)
        {
            var stamp = Stamp();
            if (stamp == _stamp)
                return _current;
            try
            {
                _current = Load();
                _stamp = stamp;
                _failing = false;
                _logger.ServerCertificateRenewed(_options.CertificateFile);
            }
            catch (TlsFileException fault)
            {
                // Half a renewal: the old one goes on, and the files are looked at again at the next connection.
                if (!_failing)
                    _logger.ServerCertificateNotRenewed(fault.What, fault.Mend);
                _failing = true;
            }

            return _current;
        }
    }

    private SslServerAuthenticationOptions Load()
    {
        var (own, chain) = TlsFiles.Identity(Section, _options.CertificateFile, _options.KeyFile, _time);
        var authorities = _options.ClientCaFile is { } file ? TlsFiles.Authorities(Section + ".clientCaFile", file) : null;
        return new()
        {
            ServerCertificateContext = SslStreamCertificateContext.Create(own, chain, offline: true),
            EnabledSslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13,
            CertificateRevocationCheckMode = X509RevocationMode.NoCheck, // private authorities publish none
            ClientCertificateRequired = authorities is not null,
            RemoteCertificateValidationCallback = authorities is null ? null : (_, certificate, chainOfClient, _) => IsOfOurs(certificate, chainOfClient, authorities),
        };
    }

    private static bool IsOfOurs(X509Certificate? certificate, X509Chain? shown, X509Certificate2Collection authorities)
    {
        if (certificate is not X509Certificate2 client)
            return false;
        using var chain = new X509Chain();
        chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        chain.ChainPolicy.CustomTrustStore.AddRange(authorities);
        chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
        chain.ChainPolicy.ApplicationPolicy.Add(new(ForClients));
        foreach (var element in shown?.ChainElements ?? Enumerable.Empty<X509ChainElement>())
            chain.ChainPolicy.ExtraStore.Add(element.Certificate);
        return chain.Build(client);
    }

    private long Stamp() =>
        HashCode.Combine(File.GetLastWriteTimeUtc(_options.CertificateFile), File.GetLastWriteTimeUtc(_options.KeyFile), _options.ClientCaFile is { } ca ? File.GetLastWriteTimeUtc(ca) : default);
}
