using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

public sealed class TlsTests : IDisposable
{
    private readonly LogLines<MqttClientLink> _log = new();
    private readonly ECDsa _caKey = ECDsa.Create(ECCurve.NamedCurves.nistP256);
    private readonly X509Certificate2 _ca;

    public TlsTests()
    {
        var request = new CertificateRequest("CN=Test authority", _caKey, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, false, 0, true));
        _ca = request.CreateSelfSigned(TimeProvider.System.GetUtcNow().AddDays(-1), TimeProvider.System.GetUtcNow().AddDays(2));
    }

    [SkippableFact]
    public async Task With_the_authority_and_a_client_certificate_the_link_gets_in()
    {
        await using var broker = await StartAsync(clientCertificate: true);
        await using var link = await RunningLink.ConnectedAsync(Link(broker, "127.0.0.1", "ca.pem", "agent"));
        await broker.PublishAsync(
            "laserwatch/bay1/power", "50", qos: 1, "--cafile", Path.Combine(broker.Folder, "ca.pem"),
            "--cert", Path.Combine(broker.Folder, "agent.pem"), "--key", Path.Combine(broker.Folder, "agent.key"));

        Assert.Equal("50", RunningLink.Text(await link.NextAsync()));
    }

    [SkippableFact]
    public async Task Without_the_authority_the_broker_is_not_trusted_and_the_log_says_where_to_name_it()
    {
        await using var broker = await StartAsync(clientCertificate: false);
        await using var link = new RunningLink(Link(broker, "127.0.0.1", null, null));
        var line = await FirstWarningAsync();

        Assert.StartsWith($"No connection to the broker 127.0.0.1:{broker.Port}: the TLS handshake failed: ", line, StringComparison.Ordinal);
        Assert.EndsWith("if the broker's certificate is of a private authority, name its file in broker.tls.caFile. Trying on", line, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_broker_whose_certificate_bears_another_name_is_not_trusted()
    {
        await using var broker = await StartAsync(clientCertificate: false);
        await using var link = new RunningLink(Link(broker, "localhost", "ca.pem", null));

        Assert.StartsWith($"No connection to the broker localhost:{broker.Port}: the TLS handshake failed: ", await FirstWarningAsync(), StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_broker_that_asks_for_a_client_certificate_makes_the_log_say_so()
    {
        await using var broker = await StartAsync(clientCertificate: true);
        await using var link = new RunningLink(Link(broker, "127.0.0.1", "ca.pem", null));

        Assert.EndsWith(
            "the broker at 127.0.0.1:" + broker.Port + " hung up after the TLS handshake; it seems to ask for a client certificate, and none is configured. set broker.tls.certificateFile and keyFile. Trying on",
            await FirstWarningAsync(), StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_file_that_is_not_there_is_named()
    {
        await using var broker = await StartAsync(clientCertificate: false);
        await using var link = new RunningLink(Link(broker, "127.0.0.1", "absent.pem", null));
        var line = await FirstWarningAsync();

        Assert.Contains("absent.pem", line, StringComparison.Ordinal);
        Assert.StartsWith($"No connection to the broker 127.0.0.1:{broker.Port}: broker.tls.caFile: ", line, StringComparison.Ordinal);
    }

    public void Dispose()
    {
        _ca.Dispose();
        _caKey.Dispose();
    }

    private async Task<string> FirstWarningAsync()
    {
        await RealBroker.UntilAsync(() => _log.Warnings.Count > 0, "nothing logged");
        return _log.Warnings[0];
    }

    private Task<RealBroker> StartAsync(bool clientCertificate) => RealBroker.StartAsync(
        [
            "allow_anonymous true", "cafile FOLDER/ca.pem", "certfile FOLDER/broker.pem", "keyfile FOLDER/broker.key",
            $"require_certificate {(clientCertificate ? "true" : "false")}",
        ],
        folder =>
        {
            File.WriteAllText(Path.Combine(folder, "ca.pem"), _ca.ExportCertificatePem());
            Issue(folder, "broker", server: true);
            Issue(folder, "agent", server: false);
        });

    private void Issue(string folder, string name, bool server)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest($"CN={name}", key, HashAlgorithmName.SHA256);
        if (server)
        {
            var names = new SubjectAlternativeNameBuilder();
            names.AddIpAddress(System.Net.IPAddress.Loopback);
            request.CertificateExtensions.Add(names.Build());
        }

        using var certificate = request.Create(_ca, _ca.NotBefore, _ca.NotAfter, RandomNumberGenerator.GetBytes(8));
        File.WriteAllText(Path.Combine(folder, name + ".pem"), certificate.ExportCertificatePem());
        File.WriteAllText(Path.Combine(folder, name + ".key"), key.ExportPkcs8PrivateKeyPem());
    }

    private MqttClientLink Link(RealBroker broker, string host, string? ca, string? certificate)
    {
        string? At(string? file) => file is null ? null : Path.Combine(broker.Folder, file);
        var options = new ConfiguredBroker
        {
            Host = host,
            Port = broker.Port,
            ClientId = "agent",
            Tls = new ConfiguredTls
            {
                Enabled = true,
                CaFile = At(ca),
                CertificateFile = At(certificate is null ? null : certificate + ".pem"),
                KeyFile = At(certificate is null ? null : certificate + ".key"),
            },
        };
        return new(options, ["laserwatch/+/+"], null, TimeProvider.System, seed: 1, _log);
    }
}
