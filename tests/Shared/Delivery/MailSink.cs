using System.Buffers;
using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Mqtt;
using MimeKit;
using SmtpServer;
using SmtpServer.Authentication;
using SmtpServer.Mail;
using SmtpServer.Protocol;
using SmtpServer.Storage;

namespace LaserWatch.Delivery;

/// <summary>A mail server on loopback that keeps what it takes; with STARTTLS, TLS from the first byte, or nothing.</summary>
internal sealed class MailSink : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-mail").FullName;
    private readonly List<MimeMessage> _mails = [];
    private readonly X509Certificate2 _ca;
    private readonly X509Certificate2 _own;
    private Task _serving = Task.CompletedTask;

    public MailSink(MailSecurity security = MailSecurity.None, bool asksForUser = false, bool start = true)
    {
        Security = security;
        AsksForUser = asksForUser;
        Port = RealBroker.FreePort();
        (_ca, _own) = Certificates();
        File.WriteAllText(CaFile, _ca.ExportCertificatePem());
        if (start)
            Start();
    }

    public MailSecurity Security { get; }

    public bool AsksForUser { get; }

    public int Port { get; }

    public string CaFile => Path.Combine(_folder, "ca.pem");

    /// <summary>Addresses that it does not take mail for.</summary>
    public HashSet<string> Unknown { get; } = [];

    /// <summary>What it says to the content of a mail; null: it takes it.</summary>
    public SmtpResponse? Says { get; set; }

    public IReadOnlyList<MimeMessage> Mails
    {
        get
        {
            lock (_mails)
                return [.. _mails];
        }
    }

    public bool SawPlainPassword { get; private set; }

    public MailOptions Options => new() { Host = "127.0.0.1", Port = Port, Security = Security, From = "Laser bay <laser@shop.example>", To = ["ana@shop.example"], CaFile = Security == MailSecurity.None ? null : CaFile, GatherAt = [] };

    public void Start()
    {
        var options = new SmtpServerOptionsBuilder().ServerName("localhost").Endpoint(endpoint =>
        {
            endpoint.Endpoint(new IPEndPoint(IPAddress.Loopback, Port)).AllowUnsecureAuthentication(false);
            if (Security != MailSecurity.None)
                endpoint.Certificate(_own).IsSecure(Security == MailSecurity.Tls);
            if (AsksForUser)
                endpoint.AuthenticationRequired();
        }).Build();
        var services = new SmtpServer.ComponentModel.ServiceProvider();
        services.Add(new Store(this));
        services.Add((IMailboxFilter)new Filter(this));
        services.Add(new Doorman(this));
        _serving = new SmtpServer.SmtpServer(options, services).StartAsync(_stop.Token);
    }

    public Task HasTakenAsync(int count) => RealBroker.UntilAsync(() => Mails.Count >= count, $"{count} mails were not taken, but {Mails.Count}");

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _serving.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        _stop.Dispose();
        _ca.Dispose();
        _own.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private static (X509Certificate2 Ca, X509Certificate2 Own) Certificates()
    {
        var now = TimeProvider.System.GetUtcNow();
        using var caKey = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest("CN=Test authority", caKey, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(new X509BasicConstraintsExtension(true, false, 0, true));
        var ca = request.CreateSelfSigned(now.AddDays(-1), now.AddDays(2));
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var own = new CertificateRequest("CN=mail", key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        names.AddIpAddress(IPAddress.Loopback);
        own.CertificateExtensions.Add(names.Build());
        using var signed = own.Create(ca, now.AddDays(-1), now.AddDays(1), [1, 2, 3, 4]);
        return (ca, signed.CopyWithPrivateKey(key));
    }

    private sealed class Store(MailSink sink) : MessageStore
    {
        public override Task<SmtpResponse> SaveAsync(ISessionContext context, IMessageTransaction transaction, ReadOnlySequence<byte> buffer, CancellationToken cancellationToken)
        {
            if (sink.Says is { } answer)
                return Task.FromResult(answer);
            using var stream = new MemoryStream(buffer.ToArray());
            lock (sink._mails)
                sink._mails.Add(MimeMessage.Load(stream, cancellationToken));
            return Task.FromResult(SmtpResponse.Ok);
        }
    }

    private sealed class Filter(MailSink sink) : MailboxFilter
    {
        public override Task<bool> CanDeliverToAsync(ISessionContext context, IMailbox to, IMailbox from, CancellationToken cancellationToken) =>
            Task.FromResult(!sink.Unknown.Contains($"{to.User}@{to.Host}"));
    }

    private sealed class Doorman(MailSink sink) : UserAuthenticator
    {
        public override Task<bool> AuthenticateAsync(ISessionContext context, string user, string password, CancellationToken cancellationToken)
        {
            sink.SawPlainPassword |= !context.Pipe.IsSecure;
            return Task.FromResult((user, password) == ("laser", "let me in"));
        }
    }
}
