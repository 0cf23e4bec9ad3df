using System.Net;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>The answer to a request.</summary>
/// <param name="Body">Empty: only the status is sent.</param>
internal readonly record struct Page(HttpStatusCode Status, string? ContentType = null, ReadOnlyMemory<byte> Body = default);

/// <summary>Shows a few pages over HTTP/1.1, for reading only: no request may have a body.</summary>
/// <remarks>What a stranger can send is bounded: connections, bytes of a request, time to send it, time to take the answer.</remarks>
/// <param name="pageOf">From the path to the page. Any thread calls it.</param>
internal sealed class PageServer(Func<string, Page> pageOf, ILogger logger) : IAsyncDisposable
{
    private const int MostConnections = 32;
    private const int MostHeadBytes = 8 * 1024;
    private static readonly TimeSpan TimeToAsk = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan TimeToTake = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan KeptIdle = TimeSpan.FromSeconds(90); // longer than a scraper's usual minute
    private static readonly TimeSpan TimeToStop = TimeSpan.FromSeconds(1);

    private WebApplication? _web;

    /// <returns>Where it listens, with the port that was taken.</returns>
    /// <exception cref="IOException">It cannot listen there.</exception>
    public async Task<Uri> StartAsync(IPEndPoint place, CancellationToken stop)
    {
        _web = Kestrel.Build(TimeToStop, kestrel =>
        {
            var limits = kestrel.Limits;
            limits.MaxConcurrentConnections = MostConnections;
            limits.MaxRequestLineSize = MostHeadBytes;
            limits.MaxRequestHeadersTotalSize = MostHeadBytes;
            limits.MaxRequestBodySize = 0;
            limits.RequestHeadersTimeout = TimeToAsk;
            limits.KeepAliveTimeout = KeptIdle;
            limits.MinResponseDataRate = new(bytesPerSecond: 1024, gracePeriod: TimeToTake);
            kestrel.Listen(place, listen => listen.Protocols = HttpProtocols.Http1);
        });
        _web.Run(AnswerAsync);
        await _web.StartAsync(stop);
        var addresses = _web.Services.GetRequiredService<IServer>().Features.GetRequiredFeature<IServerAddressesFeature>();
        return new(addresses.Addresses.Single());
    }

    public async ValueTask DisposeAsync()
    {
        if (_web is not { } web)
            return;
        _web = null;
        await web.StopAsync();
        await web.DisposeAsync();
    }

    private async Task AnswerAsync(HttpContext context)
    {
        var page = Judge(context.Request);
        var answer = context.Response;
        answer.StatusCode = (int)page.Status;
        answer.ContentLength = page.Body.Length;
        if (page.ContentType is not null)
        {
            answer.ContentType = page.ContentType;
            answer.Headers.CacheControl = "no-store, no-cache";
        }

        if (page.Status == HttpStatusCode.MethodNotAllowed)
            answer.Headers.Allow = "GET, HEAD";
        if (HasBody(context.Request))
            answer.Headers.Connection = "close";
        if (!HttpMethods.IsHead(context.Request.Method))
            await answer.Body.WriteAsync(page.Body, context.RequestAborted);
    }

    private Page Judge(HttpRequest request)
    {
        if (!HttpMethods.IsGet(request.Method) && !HttpMethods.IsHead(request.Method))
            return new(HttpStatusCode.MethodNotAllowed);
        if (HasBody(request))
            return new(HttpStatusCode.RequestEntityTooLarge);
        try
        {
            return pageOf(request.Path.Value ?? "/");
        }
        catch (Exception fault) // whatever a page met, it is that page's alone
        {
            logger.HealthPartFailed(fault, "A health page");
            return new(HttpStatusCode.InternalServerError);
        }
    }

    private static bool HasBody(HttpRequest request) => request.ContentLength > 0 || request.Headers.TransferEncoding.Count > 0;
}
