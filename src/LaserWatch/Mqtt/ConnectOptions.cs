using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Configuration;
using MQTTnet;
using MQTTnet.Formatter;
using MQTTnet.Protocol;

namespace LaserWatch.Mqtt;

/// <summary>Our options in the client library's words.</summary>
internal static class ConnectOptions
{
    /// <summary>
    /// What the broker publishes for us when we vanish. The rest of a status is left out: nobody is there to vouch for it.
    /// </summary>
    public static readonly byte[] Offline = """{"state":"offline"}"""u8.ToArray();

    public static readonly byte[] Online = """{"state":"online"}"""u8.ToArray();

    /// <summary>
    /// A short break must not read as a death: the broker waits so long before it publishes the will (MQTT 5), in seconds.
    /// </summary>
    public const uint WillDelaySeconds = 3;

    /// <summary>Larger packets the broker keeps to itself (MQTT 5), in bytes; twice what the decoder takes.</summary>
    private const uint LargestPacket = 2 * 1024 * 1024;

    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    /// <param name="persistent">True: the session, with what waits in it, outlives the connection, where the options say so.</param>
    /// <exception cref="SecretMissingException">The password cannot be read.</exception>
    /// <exception cref="TlsFileException">A certificate or key cannot be used.</exception>
    public static MqttClientOptions Build(ConfiguredBroker options, string clientId, string? willTopic, bool persistent, bool five)
    {
        persistent &= options.SessionExpiryHours > 0;
        var build = new MqttClientOptionsBuilder()
            .WithTcpServer(options.Host ?? throw new ArgumentException("There is no broker.host.", nameof(options)), options.Port)
            .WithProtocolVersion(five ? MqttProtocolVersion.V500 : MqttProtocolVersion.V311)
            .WithClientId(clientId)
            .WithCleanStart(!persistent)
            .WithKeepAlivePeriod(TimeSpan.FromSeconds(options.KeepAliveSeconds))
            .WithTimeout(Patience)
            .WithWillTopic(willTopic)
            .WithWillPayload(Offline)
            .WithWillRetain()
            .WithWillQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce);

        // The MQTT bridge habit of a high version bit is unknown to strict 3.1.1 brokers.
        build = build.WithTryPrivate(false);

        if (five)
        {
            build = build.WithReceiveMaximum((ushort)options.ReceiveMaximum).WithMaximumPacketSize(LargestPacket);
            if (persistent)
            {
                build = build.WithSessionExpiryInterval((uint)options.SessionExpiryHours * 3600u)
                    .WithWillDelayInterval(WillDelaySeconds);
            }
        }

        if (options.User is not null)
            build = build.WithCredentials(options.User, Password(options));
        if (options.Tls.Enabled)
            build = build.WithTlsOptions(t => Encrypt(t, options.Tls, options.Host, TimeProvider.System));
        var built = build.Build();

        // The library's habit is to close with a reset, which makes the broker throw away what it has not read yet:
        // our last acknowledgements and the good-bye.
        ((MqttClientTcpOptions)built.ChannelOptions).LingerState = new LingerOption(false, 0);
        return built;
    }

    /// <summary>TLS was wanted, and the other end has not even begun it.</summary>
    public static bool HasSeenNoTls(MqttClientOptions options) =>
        options.ChannelOptions.TlsOptions?.CertificateValidationHandler?.Target is BrokerCertificate { WasShown: false };

    /// <summary>Read anew for each connection, so that a changed password needs no restart.</summary>
    private static string Password(ConfiguredBroker options)
    {
        if (options.Password is null)
            return "";
        return options.Password.Read(out var wrong) ?? throw new SecretMissingException("broker.password", wrong!);
    }

    /// <summary>Files are read anew for each connection, so that a renewed certificate needs no restart.</summary>
    private static void Encrypt(MqttClientTlsOptionsBuilder build, ConfiguredTls tls, string host, TimeProvider time)
    {
        var broker = new BrokerCertificate(
            tls, host, tls.CaFile is null ? null : TlsFiles.Authorities("broker.tls.caFile", tls.CaFile),
            tls.ExactlyFile is null ? null : TlsFiles.Authorities("embeddedBroker.tls.certificateFile", tls.ExactlyFile)[0], time);
        build.UseTls()
            .WithTargetHost(host)
            .WithSslProtocols(SslProtocols.Tls12 | SslProtocols.Tls13)
            .WithRevocationMode(X509RevocationMode.NoCheck)
            .WithCertificateValidationHandler(broker.IsGood);
        if (tls is { CertificateFile: { } certificate, KeyFile: { } key })
        {
            var (own, chain) = TlsFiles.Identity(tls.Section, certificate, key, time);
            build.WithClientCertificates([own, .. chain]);
        }
    }
}
