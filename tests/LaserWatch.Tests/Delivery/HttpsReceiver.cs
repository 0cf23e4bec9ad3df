using System.Globalization;
using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text;

namespace LaserWatch.Delivery;

/// <summary>A web server on loopback with a certificate of an authority of its own; counts what is posted to it.</summary>
internal sealed class HttpsReceiver : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-https").FullName;
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly X509Certificate2 _certificate;
    private readonly Task _serving;
    private int _taken;

    public HttpsReceiver()
    {
        _certificate = MakeCertificate();
        _listener.Start();
        Url = $"https://{_listener.LocalEndpoint}/alarms";
        _serving = ServeAsync();
    }

    public string CaFile => Path.Combine(_folder, "ca.pem");

    public string Url { get; }

    public int Taken => Volatile.Read(ref _taken);

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        _listener.Dispose();
        await _serving;
        _certificate.Dispose();
        _stop.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    // One request a connection; a client that does not trust the certificate goes before it sends one.
    private async Task ServeAsync()
    {
        while (!_stop.IsCancellationRequested)
        {
            try
            {
                using var client = await _listener.AcceptTcpClientAsync(_stop.Token);
                await using var secure = new SslStream(client.GetStream());
                await secure.AuthenticateAsServerAsync(new SslServerAuthenticationOptions { ServerCertificate = _certificate }, _stop.Token);
                using var reader = new StreamReader(secure, Encoding.Latin1);
                if (await reader.ReadLineAsync(_stop.Token) is null)
                    continue; // a client that does not trust us ends the handshake after us
                var length = 0;
                for (var line = await reader.ReadLineAsync(_stop.Token); line is { Length: > 0 }; line = await reader.ReadLineAsync(_stop.Token))
                {
                    if (line.StartsWith("Content-Length:", StringComparison.OrdinalIgnoreCase))
                        length = int.Parse(line["Content-Length:".Length..], CultureInfo.InvariantCulture);
                }

                await reader.ReadBlockAsync(new char[length], _stop.Token);
                Interlocked.Increment(ref _taken);
                await secure.WriteAsync("HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n"u8.ToArray(), _stop.Token);
            }
            catch (Exception gone) when (gone is IOException or AuthenticationException or OperationCanceledException or SocketException)
            {
            }
        }
    }

    private X509Certificate2 MakeCertificate()
    {
        var now = TimeProvider.System.GetUtcNow();
        using var caKey = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var authority = new CertificateRequest("CN=Test authority", caKey, HashAlgorithmName.SHA256);
        authority.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, false, 0, true));
        using var ca = authority.CreateSelfSigned(now.AddDays(-1), now.AddDays(2));
        File.WriteAllText(CaFile, ca.ExportCertificatePem());
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var own = new CertificateRequest("CN=receiver", key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        names.AddIpAddress(IPAddress.Loopback);
        own.CertificateExtensions.Add(names.Build());
        using var signed = own.Create(ca, now.AddDays(-1), now.AddDays(1), [4, 3, 2, 1]);
        return signed.CopyWithPrivateKey(key);
    }
}
