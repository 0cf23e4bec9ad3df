using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using InfluxDB.Client;
using InfluxDB.Client.Api.Domain;

namespace LaserWatch.Storage.Influx;

/// <summary>The way to one bucket of one server: lines in by the v2 write route, answers out by InfluxQL.</summary>
/// <remarks>
/// InfluxQL at <c>/query</c>, and not Flux: it is there on 1.x, 2.x and 3.x. By its documentation 2.7 maps every bucket to a database of
/// its name by itself, while 2.3 and earlier want <c>influx v1 dbrp create</c> for it.
/// The client library has no InfluxQL, so queries go over the same HTTP client beside it. Safe for several threads.
/// </remarks>
internal sealed class InfluxConnection : IDisposable
{
    private readonly InfluxOptions _options;
    private readonly Uri _url;
    private readonly HttpClient _http;
    private readonly Lock _lock = new();
    private InfluxDBClient? _client;

    /// <exception cref="StoreException">The certificates cannot be read.</exception>
    public InfluxConnection(InfluxOptions options)
    {
        _options = options;
        _url = new Uri(options.Url.TrimEnd('/') + "/");
        var handler = new SocketsHttpHandler
        {
            AllowAutoRedirect = false, // a write that is redirected would become a read
            ConnectTimeout = TimeSpan.FromSeconds(options.TimeoutSeconds),
            PooledConnectionLifetime = TimeSpan.FromMinutes(5), // or a changed name would never be looked up again
            UseCookies = false,
        };
        if (options.CaFile is not null)
            handler.SslOptions.CertificateChainPolicy = TrustOnly(options.CaFile);
        _http = new HttpClient(handler) { Timeout = Timeout.InfiniteTimeSpan };
    }

    /// <summary>The server and the bucket, for messages.</summary>
    public string Where => $"{_options.Url} (bucket {_options.Bucket})";

    /// <summary>Writes lines of line protocol; returns once the server has them.</summary>
    /// <exception cref="InfluxFaultException">It does not, or does not say so.</exception>
    public async Task WriteAsync(string lines, CancellationToken stop)
    {
        using var limit = LimitOf(stop);
        try
        {
            await ClientOf().GetWriteApiAsync().WriteRecordAsync(lines, WritePrecision.Ns, _options.Bucket, _options.Organisation, limit.Token).ConfigureAwait(false);
        }
        catch (Exception fault) when (fault is not InfluxFaultException && !stop.IsCancellationRequested)
        {
            var known = InfluxFaultException.Of(fault, _options.TimeoutSeconds);
            if (known.Kind == InfluxFaultKind.Setup)
                ForgetClient(); // so that a changed token needs no restart
            throw known;
        }
    }

    /// <summary>The tables of one InfluxQL statement; times in nanoseconds.</summary>
    /// <exception cref="StoreException">The server cannot be asked.</exception>
    public async Task<IReadOnlyList<AnswerTable>> QueryAsync(string statement, CancellationToken stop)
    {
        try
        {
            return await AskAsync(statement, stop).ConfigureAwait(false);
        }
        catch (InfluxFaultException fault)
        {
            throw new StoreException($"InfluxDB {Where} cannot be read: {fault.Message}", fault) { MayPass = fault.Kind == InfluxFaultKind.Unreachable };
        }
    }

    /// <summary>Tries what the agent will do: a query, and a write that holds a comment only, which every version takes for nothing.</summary>
    /// <exception cref="StoreException">One of them is not granted.</exception>
    public async Task CheckAsync(CancellationToken stop)
    {
        await QueryAsync("SHOW MEASUREMENTS LIMIT 1", stop).ConfigureAwait(false);
        try
        {
            await WriteAsync("# laserwatch check", stop).ConfigureAwait(false);
        }
        catch (InfluxFaultException fault) when (fault.Kind == InfluxFaultKind.Refused)
        {
            // It has looked at token and bucket before it looked at the lines, and found none.
        }
        catch (InfluxFaultException fault)
        {
            throw new StoreException($"InfluxDB {Where} cannot be written: {fault.Message}", fault);
        }
    }

    public void Dispose()
    {
        ForgetClient();
        _http.Dispose();
    }

    private async Task<IReadOnlyList<AnswerTable>> AskAsync(string statement, CancellationToken stop)
    {
        using var limit = LimitOf(stop);
        using var request = new HttpRequestMessage(
            HttpMethod.Get, new Uri(_url, $"query?db={Uri.EscapeDataString(_options.Bucket)}&epoch=ns&q={Uri.EscapeDataString(statement)}"));
        request.Headers.Accept.Add(new MediaTypeWithQualityHeaderValue("application/json"));
        if (Token() is { } token)
            request.Headers.Authorization = new AuthenticationHeaderValue("Token", token);
        try
        {
            using var response = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, limit.Token).ConfigureAwait(false);
            var body = await response.Content.ReadAsByteArrayAsync(limit.Token).ConfigureAwait(false);
            if (response.IsSuccessStatusCode)
                return QueryAnswer.Read(body);
            var words = QueryAnswer.ErrorOf(body) ?? response.ReasonPhrase ?? "";
            throw InfluxFaultException.OfAnswer(response.StatusCode, words, null, null);
        }
        catch (Exception fault) when (fault is HttpRequestException or IOException or OperationCanceledException && !stop.IsCancellationRequested)
        {
            throw InfluxFaultException.Of(fault, _options.TimeoutSeconds);
        }
    }

    private CancellationTokenSource LimitOf(CancellationToken stop)
    {
        var limit = CancellationTokenSource.CreateLinkedTokenSource(stop);
        limit.CancelAfter(TimeSpan.FromSeconds(_options.TimeoutSeconds));
        return limit;
    }

    private InfluxDBClient ClientOf()
    {
        lock (_lock)
        {
            if (_client is not null)
                return _client;
            var build = new InfluxDBClientOptions.Builder().Url(_url.ToString()).Org(_options.Organisation).Bucket(_options.Bucket).SetHttpClient(_http);
            if (Token() is { } token)
                build = build.AuthenticateToken(token);
            var client = new InfluxDBClient(build.Build());
            if (_options.Gzip)
                client.EnableGzip();
            return _client = client;
        }
    }

    private void ForgetClient()
    {
        lock (_lock)
        {
            _client?.Dispose(); // the HTTP client given to it stays
            _client = null;
        }
    }

    /// <exception cref="InfluxFaultException">There is no secret where one should be.</exception>
    private string? Token()
    {
        if (_options.Token is not { } secret)
            return null;
        return secret.Read(out var wrong)
            ?? throw new InfluxFaultException(InfluxFaultKind.Setup, $"store.influx.token.{wrong!.Member}: {wrong.What}; {wrong.Mend}", null, null);
    }

    private static X509ChainPolicy TrustOnly(string caFile)
    {
        var policy = new X509ChainPolicy
        {
            TrustMode = X509ChainTrustMode.CustomRootTrust,
            RevocationMode = X509RevocationMode.NoCheck, // private authorities publish none
        };
        try
        {
            policy.CustomTrustStore.ImportFromPemFile(caFile);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or CryptographicException)
        {
            throw new StoreException($"The certificates of store.influx.caFile cannot be read: {e.Message.TrimEnd('.')}; give a PEM file that this user may read.", e);
        }

        return policy.CustomTrustStore.Count > 0
            ? policy
            : throw new StoreException($"The file {caFile} of store.influx.caFile holds no certificate; give one in PEM.");
    }
}
