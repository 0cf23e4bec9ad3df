using System.Diagnostics;
using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Proof;

/// <summary>A real time-stamping authority: openssl's, behind HTTP on loopback, with keys made for the test.</summary>
internal sealed class OpensslAuthority : IAsyncDisposable
{
    private const string Configuration = """
        [tsa]
        default_tsa = one
        [one]
        serial = serial
        signer_cert = tsa.pem
        certs = ca.pem
        signer_key = tsa.key
        signer_digest = sha256
        default_policy = 1.3.6.1.4.1.99999.1
        digests = sha256
        ess_cert_id_chain = no
        ess_cert_id_alg = sha256
        """;

    private readonly HttpListener _listener = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch").FullName;
    private readonly Task _serving;

    public OpensslAuthority()
    {
        Needs.Program("openssl");
        using var free = new TcpListener(IPAddress.Loopback, 0);
        free.Start();
        Url = $"http://127.0.0.1:{((IPEndPoint)free.LocalEndpoint).Port}/";
        free.Stop();
        File.WriteAllText(Path.Combine(_folder, "tsa.cnf"), Configuration);
        File.WriteAllText(Path.Combine(_folder, "serial"), "01\n");
        Openssl("req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -days 30 -subj /CN=test-root");
        Openssl("req -newkey rsa:2048 -nodes -keyout tsa.key -out tsa.csr -subj /CN=test-authority");
        File.WriteAllText(Path.Combine(_folder, "ext.cnf"), "extendedKeyUsage = critical,timeStamping\nbasicConstraints = CA:FALSE\n");
        Openssl("x509 -req -in tsa.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out tsa.pem -days 30 -extfile ext.cnf");
        _listener.Prefixes.Add(Url);
        _listener.Start();
        _serving = ServeAsync();
    }

    public string Url { get; }

    public string CaFile => Path.Combine(_folder, "ca.pem");

    /// <summary>What it answers instead of a token; null: it works.</summary>
    public int? Fault { get; set; }

    public int Asked { get; private set; }

    public async ValueTask DisposeAsync()
    {
        _listener.Close();
        await _serving;
        Directory.Delete(_folder, recursive: true);
    }

    private async Task ServeAsync()
    {
        while (_listener.IsListening)
        {
            HttpListenerContext call;
            try
            {
                call = await _listener.GetContextAsync();
            }
            catch (Exception e) when (e is HttpListenerException or ObjectDisposedException)
            {
                return; // stopped
            }

            await AnswerAsync(call);
        }
    }

    private async Task AnswerAsync(HttpListenerContext call)
    {
        Asked++;
        if (Fault is { } status)
        {
            call.Response.StatusCode = status;
        }
        else
        {
            Assert.Equal("application/timestamp-query", call.Request.ContentType);
            await using (var query = File.Create(Path.Combine(_folder, "q.tsq")))
                await call.Request.InputStream.CopyToAsync(query);
            Openssl("ts -reply -config tsa.cnf -section one -queryfile q.tsq -out r.tsr");
            call.Response.ContentType = "application/timestamp-reply";
            await call.Response.OutputStream.WriteAsync(await File.ReadAllBytesAsync(Path.Combine(_folder, "r.tsr")));
        }

        call.Response.Close();
    }

    private void Openssl(string arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(Needs.Program("openssl"), arguments) { WorkingDirectory = _folder, RedirectStandardError = true, RedirectStandardOutput = true })!;
        var said = process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"openssl {arguments}: {said}");
    }
}
