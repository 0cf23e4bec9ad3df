using System.Net;
using LaserWatch.Mqtt;

namespace LaserWatch.Storage.Influx;

/// <summary>Gives an <c>influxd</c> 1.x the v2 write route and a token, as a server of its own before it; the rest goes through unchanged.</summary>
public sealed class V2Shim : IAsyncDisposable
{
    public const string Token = "the-test-token";

    private readonly HttpListener _listener = new();
    private readonly HttpClient _http = new();
    private readonly Task _running;
    private readonly int _port;

    public V2Shim(int serverPort)
    {
        _port = serverPort;
        var port = RealBroker.FreePort();
        Url = $"http://127.0.0.1:{port}";
        _listener.Prefixes.Add(Url + "/");
        _listener.Start();
        _running = Task.Run(ServeAsync);
    }

    public string Url { get; }

    /// <summary>Answers a write instead of the server: a status and its words; null lets it through. Given is the request's body, unpacked.</summary>
    public Func<string, (HttpStatusCode Status, string Words)?>? OnWrite { get; set; }

    /// <summary>What the writes so far bore as Content-Encoding.</summary>
    public HashSet<string> Encodings { get; } = [];

    public int Writes { get; private set; }

    public async ValueTask DisposeAsync()
    {
        _listener.Stop();
        await _running.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        _listener.Close();
        _http.Dispose();
    }

    private async Task ServeAsync()
    {
        while (_listener.IsListening)
        {
            var context = await _listener.GetContextAsync();
            _ = AnswerAsync(context);
        }
    }

    private async Task AnswerAsync(HttpListenerContext context)
    {
        try
        {
            var url = new Uri(Url + context.Request.RawUrl);
            if (context.Request.Headers["Authorization"] != $"Token {Token}" && url.AbsolutePath != "/ping")
                await EndAsync(context, HttpStatusCode.Unauthorized, """{"code":"unauthorized","message":"unauthorized access"}"""u8.ToArray());
            else if (url.AbsolutePath == "/api/v2/write")
                await WriteAsync(context);
            else
                await PassAsync(context, context.Request.RawUrl!, []);
        }
        catch (HttpRequestException)
        {
            // The server behind is down. As proxies do; an aborted response is no failure to every client.
            await EndAsync(context, HttpStatusCode.BadGateway, """{"error":"bad gateway"}"""u8.ToArray());
        }
        catch (Exception e) when (e is HttpListenerException or ObjectDisposedException or IOException)
        {
            // The client has gone.
        }
    }

    private async Task WriteAsync(HttpListenerContext context)
    {
        using var body = new MemoryStream();
        await context.Request.InputStream.CopyToAsync(body);
        var encoding = context.Request.Headers["Content-Encoding"] ?? "identity";
        lock (Encodings)
        {
            Encodings.Add(encoding);
            Writes++;
        }

        if (OnWrite?.Invoke(Unpacked(body.ToArray(), encoding)) is var (status, words))
        {
            await EndAsync(context, status, System.Text.Encoding.UTF8.GetBytes($$"""{"code":"invalid","message":"{{words}}"}"""));
            return;
        }

        Assert.Equal("shop", context.Request.QueryString["org"]);
        await PassAsync(context, $"/write?db={Uri.EscapeDataString(context.Request.QueryString["bucket"]!)}&precision={context.Request.QueryString["precision"]}", body.ToArray());
    }

    private async Task PassAsync(HttpListenerContext context, string route, byte[] body)
    {
        using var request = new HttpRequestMessage(new HttpMethod(context.Request.HttpMethod), $"http://127.0.0.1:{_port}{route}");
        if (body.Length > 0)
        {
            request.Content = new ByteArrayContent(body);
            if (context.Request.Headers["Content-Encoding"] is { } encoding)
                request.Content.Headers.TryAddWithoutValidation("Content-Encoding", encoding);
        }

        using var answer = await _http.SendAsync(request);
        await EndAsync(context, answer.StatusCode, await answer.Content.ReadAsByteArrayAsync());
    }

    private static async Task EndAsync(HttpListenerContext context, HttpStatusCode status, byte[] body)
    {
        context.Response.StatusCode = (int)status;
        context.Response.ContentType = "application/json";
        if (status != HttpStatusCode.NoContent)
        {
            context.Response.ContentLength64 = body.Length;
            await context.Response.OutputStream.WriteAsync(body);
        }

        context.Response.Close();
    }

    private static string Unpacked(byte[] body, string encoding)
    {
        if (encoding != "gzip")
            return System.Text.Encoding.UTF8.GetString(body);
        using var unzip = new System.IO.Compression.GZipStream(new MemoryStream(body), System.IO.Compression.CompressionMode.Decompress);
        using var reader = new StreamReader(unzip);
        return reader.ReadToEnd();
    }
}
