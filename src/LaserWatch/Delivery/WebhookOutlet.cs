using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Security;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using LaserWatch.Configuration;

namespace LaserWatch.Delivery;

/// <summary>Posts each message to an HTTP address, signed. 2xx: it is taken.</summary>
/// <remarks>
/// Redirects are not followed: whoever may redirect could take the alarms elsewhere. A receiver that honours <c>Idempotency-Key</c> sees a
/// message once, however often it is sent. Secrets are read at each attempt, so a changed one needs no restart.
/// </remarks>
internal sealed class WebhookOutlet : IOutlet, IDisposable
{
    public const string LateHeader = "Laserwatch-Late";

    private static readonly TimeSpan MostRetryAfter = TimeSpan.FromHours(1);

    private readonly WebhookOptions _options;
    private readonly Uri _url;
    private readonly TimeProvider _time;
    private readonly HttpClient _client;

    public WebhookOutlet(string name, WebhookOptions options, TimeProvider time)
    {
        Name = name;
        _options = options;
        _url = new Uri(options.Url);
        _time = time;
        var handler = new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseCookies = false,
            PooledConnectionLifetime = TimeSpan.FromMinutes(5), // a receiver that moves is found again
        };
        if (options.CaFile is not null)
            handler.SslOptions = new SslClientAuthenticationOptions { CertificateChainPolicy = Trusting(options.CaFile) };
        _client = new HttpClient(handler) { Timeout = Timeout.InfiniteTimeSpan };
    }

    public string Name { get; }

    public async Task<OutletAnswer> SendAsync(AlarmMessage message, CancellationToken stop)
    {
        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(_options.TimeoutSeconds), _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, limit.Token);
        try
        {
            using var request = Request(message, out var wrong);
            if (request is null)
                return OutletAnswer.Later(wrong!);
            using var response = await _client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, either.Token);
            return Judge(response);
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
            return OutletAnswer.Later($"no answer within {_options.TimeoutSeconds} s");
        }
        catch (HttpRequestException fault)
        {
            return OutletAnswer.Later(fault.InnerException is { } inner ? $"{fault.Message.TrimEnd('.')}: {inner.Message.TrimEnd('.')}" : fault.Message.TrimEnd('.'));
        }
    }

    public void Dispose() => _client.Dispose();

    internal HttpRequestMessage? Request(AlarmMessage message, out string? wrong)
    {
        wrong = null;
        var secret = Read(_options.Secret, ref wrong);
        var token = Read(_options.Token, ref wrong);
        if (wrong is not null)
            return null;

        var body = MessageJson.ToUtf8(message);
        var digest = MessageSignature.ContentDigest(body);
        var request = new HttpRequestMessage(HttpMethod.Post, _url) { Content = new ByteArrayContent(body) };
        request.Content.Headers.ContentType = new MediaTypeHeaderValue("application/json");
        request.Content.Headers.Add("Content-Digest", digest);
        request.Headers.UserAgent.Add(new ProductInfoHeaderValue("laserwatch", null));
        request.Headers.Add("Idempotency-Key", $"\"{message.Id}\"");
        if (message.IsLate)
            request.Headers.Add(LateHeader, "true");
        if (token is not null)
            request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", token);
        if (secret is not null)
            Sign(request, message, digest, secret);
        return request;
    }

    private void Sign(HttpRequestMessage request, AlarmMessage message, string digest, string secret)
    {
        List<(string, string)> components =
        [
            ("@method", "POST"),
            ("@target-uri", _url.AbsoluteUri),
            ("content-type", "application/json"),
            ("content-digest", digest),
            ("idempotency-key", $"\"{message.Id}\""),
        ];
        if (message.IsLate)
            components.Add((LateHeader.ToLowerInvariant(), "true"));
        var parameters = MessageSignature.Parameters(components, _time.GetUtcNow(), _options.KeyId ?? Name);
        var signature = MessageSignature.Sign(Encoding.UTF8.GetBytes(secret), MessageSignature.Base(components, parameters));
        request.Headers.TryAddWithoutValidation("Signature-Input", $"laserwatch={parameters}");
        request.Headers.TryAddWithoutValidation("Signature", $"laserwatch=:{signature}:");
    }

    private OutletAnswer Judge(HttpResponseMessage response)
    {
        var status = (int)response.StatusCode;
        var said = string.Create(CultureInfo.InvariantCulture, $"{_url.Host} answers {status} {response.ReasonPhrase}").TrimEnd();
        return status switch
        {
            >= 200 and < 300 => OutletAnswer.Delivered,
            >= 300 and < 400 => OutletAnswer.Later($"{said}, and redirects are not followed; put 'url' right"),
            // About this message, and no other: the next one may be taken.
            400 or 410 or 413 or 415 or 422 => OutletAnswer.Refused(said),
            // A secret, a right or an address that somebody will put right: the alarm waits for that.
            401 or 403 or 404 or 405 or 407 => OutletAnswer.Later($"{said}; put 'url', 'token' or 'secret' right, here or there", RetryAfter(response)),
            _ => OutletAnswer.Later(said, RetryAfter(response)),
        };
    }

    private TimeSpan? RetryAfter(HttpResponseMessage response)
    {
        var asked = response.Headers.RetryAfter switch
        {
            { Delta: { } delta } => delta,
            { Date: { } date } => date - _time.GetUtcNow(),
            _ => TimeSpan.Zero,
        };
        return asked <= TimeSpan.Zero ? null : asked < MostRetryAfter ? asked : MostRetryAfter;
    }

    private static string? Read(Secret? secret, ref string? wrong)
    {
        if (secret is null)
            return null;
        var text = secret.Read(out var mistake);
        if (mistake is not null)
            wrong = $"{mistake.What}; {mistake.Mend}";
        return text;
    }

    private static X509ChainPolicy Trusting(string file)
    {
        var policy = new X509ChainPolicy { TrustMode = X509ChainTrustMode.CustomRootTrust, RevocationMode = X509RevocationMode.NoCheck };
        policy.CustomTrustStore.ImportFromPemFile(file);
        return policy;
    }
}
