using System.Net;
using LaserWatch.Mqtt;

namespace LaserWatch.Health;

/// <summary>An HTTP server on loopback that remembers what it was asked, and answers what the test tells it to.</summary>
internal sealed class LoopbackReceiver : IDisposable
{
    private readonly HttpListener _listener = new();
    private readonly List<Request> _requests = [];

    public LoopbackReceiver()
    {
        Address = $"http://127.0.0.1:{RealBroker.FreePort()}";
        _listener.Prefixes.Add(Address + "/");
        _listener.Start();
        _ = ServeAsync();
    }

    public string Address { get; }

    /// <summary>The status of every answer from now on.</summary>
    public HttpStatusCode Answer { get; set; } = HttpStatusCode.OK;

    public IReadOnlyList<Request> Requests
    {
        get
        {
            lock (_requests)
                return [.. _requests];
        }
    }

    public void Dispose() => _listener.Close();

    private async Task ServeAsync()
    {
        while (_listener.IsListening)
        {
            HttpListenerContext context;
            try
            {
                context = await _listener.GetContextAsync();
            }
            catch (Exception fault) when (fault is HttpListenerException or ObjectDisposedException)
            {
                return; // closed
            }

            using var body = new MemoryStream();
            await context.Request.InputStream.CopyToAsync(body);
            lock (_requests)
                _requests.Add(new(context.Request.HttpMethod, context.Request.Url!.AbsolutePath, context.Request.ContentType, body.ToArray()));
            context.Response.StatusCode = (int)Answer;
            context.Response.Close();
        }
    }

    internal sealed record Request(string Method, string Path, string? ContentType, byte[] Body);
}
