using System.Diagnostics;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text.Json;
using LaserWatch.Mqtt;

namespace LaserWatch.Storage.Influx;

/// <summary>A victoria-metrics of its own on a free loopback port: a server of other people's that takes the v2 write route, plain or by TLS.</summary>
public sealed class VictoriaServer : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-victoria").FullName;
    private readonly HttpClient _http;
    private Process? _process;

    private VictoriaServer(bool tls)
    {
        var port = RealBroker.FreePort();
        Url = $"{(tls ? "https" : "http")}://127.0.0.1:{port}";
        // Only to ask the server what it holds; what the store trusts is its own affair.
        _http = new HttpClient(new HttpClientHandler { ServerCertificateCustomValidationCallback = HttpClientHandler.DangerousAcceptAnyServerCertificateValidator });
    }

    public string Url { get; }

    /// <summary>The authority that vouches for it.</summary>
    public string CaFile => Path.Combine(_folder, "ca.pem");

    /// <summary>Another one, which does not.</summary>
    public string OtherCaFile => Path.Combine(_folder, "other.pem");

    public static async Task<VictoriaServer> StartAsync(bool tls = false)
    {
        Needs.Program("victoria-metrics");
        var server = new VictoriaServer(tls);
        string[] arguments = ["-httpListenAddr", new Uri(server.Url).Authority, "-storageDataPath", Path.Combine(server._folder, "data"), "-loggerLevel", "ERROR", "-retentionPeriod", "100y"];
        if (tls)
        {
            server.MakeCertificates();
            arguments = [.. arguments, "-tls", "-tlsCertFile", Path.Combine(server._folder, "server.pem"), "-tlsKeyFile", Path.Combine(server._folder, "server.key")];
        }

        server._process = Process.Start(new ProcessStartInfo(Needs.Program("victoria-metrics"), arguments) { RedirectStandardError = true, RedirectStandardOutput = true })!;
        server._process.OutputDataReceived += (_, _) => { };
        server._process.ErrorDataReceived += (_, _) => { };
        server._process.BeginOutputReadLine();
        server._process.BeginErrorReadLine();
        await RealBroker.UntilAsync(() => RealBroker.Answers(new Uri(server.Url).Port), "victoria-metrics does not listen");
        return server;
    }

    /// <summary>What it holds of a series: milliseconds since 1970 and values.</summary>
    public async Task<IReadOnlyList<(long At, double Value)>> ExportAsync(string selector)
    {
        using var flush = await _http.GetAsync(new Uri(Url + "/internal/force_flush"));
        var lines = await _http.GetStringAsync(new Uri($"{Url}/api/v1/export?match[]={Uri.EscapeDataString(selector)}"));
        var points = new List<(long, double)>();
        foreach (var line in lines.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            using var json = JsonDocument.Parse(line);
            points.AddRange(json.RootElement.GetProperty("timestamps").EnumerateArray().Select(at => at.GetInt64())
                .Zip(json.RootElement.GetProperty("values").EnumerateArray().Select(value => value.GetDouble())));
        }

        return [.. points.Order()];
    }

    public async ValueTask DisposeAsync()
    {
        if (_process is not null)
        {
            if (!_process.HasExited)
                _process.Kill();
            await _process.WaitForExitAsync();
            _process.Dispose();
        }

        _http.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private void MakeCertificates()
    {
        var now = TimeProvider.System.GetUtcNow();
        using var other = Authority("CN=Other authority", now);
        using var authority = Authority("CN=Test authority", now);
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest("CN=server", key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        names.AddIpAddress(System.Net.IPAddress.Loopback);
        request.CertificateExtensions.Add(names.Build());
        using var certificate = request.Create(authority, authority.NotBefore, authority.NotAfter, RandomNumberGenerator.GetBytes(8));
        File.WriteAllText(CaFile, authority.ExportCertificatePem());
        File.WriteAllText(OtherCaFile, other.ExportCertificatePem());
        File.WriteAllText(Path.Combine(_folder, "server.pem"), certificate.ExportCertificatePem());
        File.WriteAllText(Path.Combine(_folder, "server.key"), key.ExportPkcs8PrivateKeyPem());
    }

    private static X509Certificate2 Authority(string name, DateTimeOffset now)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest(name, key, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, false, 0, true));
        return request.CreateSelfSigned(now.AddDays(-1), now.AddDays(2));
    }
}
