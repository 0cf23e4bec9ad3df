using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Delivery;

/// <summary>A web server on loopback with a certificate of an authority of its own; counts what is posted to it.</summary>
internal sealed class HttpsReceiver : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-https").FullName;
    private WebApplication? _app;
    private X509Certificate2? _certificate;
    private int _taken;

    public string CaFile => Path.Combine(_folder, "ca.pem");

    public string Url { get; private set; } = "";

    public int Taken => Volatile.Read(ref _taken);

    public static async Task<HttpsReceiver> StartAsync()
    {
        var receiver = new HttpsReceiver();
        receiver._certificate = receiver.MakeCertificate();
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions());
        builder.WebHost.UseKestrelCore().UseKestrelHttpsConfiguration()
            .ConfigureKestrel(server => server.Listen(IPAddress.Loopback, 0, listen => listen.UseHttps(receiver._certificate)));
        builder.Logging.ClearProviders();
        receiver._app = builder.Build();
        receiver._app.Run(context =>
        {
            Interlocked.Increment(ref receiver._taken);
            context.Response.StatusCode = StatusCodes.Status204NoContent;
            return Task.CompletedTask;
        });
        await receiver._app.StartAsync();
        var addresses = receiver._app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses;
        receiver.Url = addresses.Single() + "/alarms";
        return receiver;
    }

    public async ValueTask DisposeAsync()
    {
        if (_app is not null)
            await _app.DisposeAsync();
        _certificate?.Dispose();
        Directory.Delete(_folder, recursive: true);
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
