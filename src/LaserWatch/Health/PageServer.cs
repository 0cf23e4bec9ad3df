using System.Buffers;
using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>What is answered to a request.</summary>
/// <param name="Body">Without a body: only the status is told.</param>
internal readonly record struct Page(HttpStatusCode Status, string? ContentType = null, ReadOnlyMemory<byte> Body = default);

/// <summary>Shows a few pages over HTTP/1.1 to whoever reaches the port: to be read, and nothing else.</summary>
/// <remarks>
/// A whole web framework took a fifth of an idle agent's memory. What a stranger can send is bounded in every way: connections, bytes of a
/// request, time to send it, time to take the answer; a body is not taken.
/// </remarks>
/// <param name="pageOf">Path without its query, and the value of <c>Accept</c>, to the page. Any thread calls it.</param>
internal sealed class PageServer(Func<string, string, Page> pageOf, TimeProvider time, ILogger logger) : IAsyncDisposable
{
    private const int MostConnections = 32;
    private const int MostRequestBytes = 8 * 1024;
    private const int MostDrainedBytes = 256 * 1024;
    private static readonly TimeSpan TimeToAsk = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan TimeToTake = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan TimeToDrain = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan KeptIdle = TimeSpan.FromSeconds(90); // longer than a scraper's usual minute

    private readonly ConcurrentDictionary<Socket, Task> _open = new();
    private readonly CancellationTokenSource _stop = new();
    private Socket? _listener;
    private Task _accepting = Task.CompletedTask;

    /// <returns>Where it listens, with the port that was taken.</returns>
    /// <exception cref="SocketException">It cannot listen there.</exception>
    public IPEndPoint Start(IPEndPoint place)
    {
        var listener = new Socket(place.AddressFamily, SocketType.Stream, ProtocolType.Tcp);
        try
        {
            if (place.Address.Equals(IPAddress.IPv6Any))
                listener.DualMode = true;
            listener.Bind(place);
            listener.Listen(MostConnections);
        }
        catch (SocketException)
        {
            listener.Dispose();
            throw;
        }

        _listener = listener;
        _accepting = AcceptAsync(listener, _stop.Token);
        return (IPEndPoint)listener.LocalEndPoint!;
    }

    public async ValueTask DisposeAsync()
    {
        if (_stop.IsCancellationRequested)
            return;
        await _stop.CancelAsync();
        _listener?.Dispose();
        await _accepting;
        await Task.WhenAll(_open.Values);
        _stop.Dispose();
    }

    private async Task AcceptAsync(Socket listener, CancellationToken stop)
    {
        while (!stop.IsCancellationRequested)
        {
            try
            {
                var client = await listener.AcceptAsync(stop);
                if (_open.Count >= MostConnections || !_open.TryAdd(client, Task.CompletedTask))
                    client.Dispose();
                else
                    _open.TryUpdate(client, ServeAsync(client, stop), Task.CompletedTask);
            }
            catch (OperationCanceledException)
            {
            }
            catch (SocketException) when (!stop.IsCancellationRequested)
            {
                // A client that went before it was met, or no descriptor free: the next may fare better.
                await Task.Delay(TimeSpan.FromMilliseconds(100), time, stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task ServeAsync(Socket client, CancellationToken stop)
    {
        await Task.Yield(); // so that the connection is entered before it can end
        var buffer = ArrayPool<byte>.Shared.Rent(MostRequestBytes);
        try
        {
            client.NoDelay = true;
            var held = 0;
            while (await ReadHeadAsync(client, buffer, held, stop) is { Length: > 0 } request)
            {
                held = request.Held - request.Length;
                var goesOn = await AnswerAsync(client, Encoding.Latin1.GetString(buffer, 0, request.Length), stop);
                buffer.AsSpan(request.Length, held).CopyTo(buffer);
                if (!goesOn)
                    break;
            }
        }
        catch (Exception gone) when (gone is SocketException or OperationCanceledException or ObjectDisposedException)
        {
            // It went, was too slow, or the agent stops: nothing to tell anybody.
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(buffer);
            client.Dispose();
            _open.TryRemove(client, out _);
        }
    }

    /// <summary>Reads until the empty line that ends a request's head.</summary>
    /// <param name="held">Bytes in the buffer from before.</param>
    /// <returns>Length of the head with its end, and bytes in the buffer; of length 0 where the client went, and the whole buffer where it has no end in it.</returns>
    private async Task<(int Length, int Held)> ReadHeadAsync(Socket client, byte[] buffer, int held, CancellationToken stop)
    {
        using var patience = new CancellationTokenSource(KeptIdle, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, patience.Token);
        var isAsking = false;
        while (true)
        {
            if (buffer.AsSpan(0, held).IndexOf("\r\n\r\n"u8) is >= 0 and var end)
                return (end + 4, held);
            if (held >= MostRequestBytes)
                return (held, held);
            if (held > 0 && !isAsking)
                patience.CancelAfter(TimeToAsk);
            isAsking = held > 0;
            var read = await client.ReceiveAsync(buffer.AsMemory(held, MostRequestBytes - held), either.Token);
            if (read == 0)
                return default;
            held += read;
        }
    }

    /// <returns>True where the connection stays for another request.</returns>
    private async Task<bool> AnswerAsync(Socket client, string head, CancellationToken stop)
    {
        var lines = head.Split("\r\n");
        var (page, isHead, staysOpen) = Judge(lines, head.EndsWith("\r\n\r\n", StringComparison.Ordinal));
        var text = new StringBuilder(256);
        text.Append(CultureInfo.InvariantCulture, $"HTTP/1.1 {(int)page.Status} {Reason(page.Status)}\r\nDate: {time.GetUtcNow():R}\r\nContent-Length: {page.Body.Length}\r\n");
        if (page.ContentType is not null)
            text.Append(CultureInfo.InvariantCulture, $"Content-Type: {page.ContentType}\r\nCache-Control: no-store, no-cache\r\n");
        if (page.Status == HttpStatusCode.MethodNotAllowed)
            text.Append("Allow: GET, HEAD\r\n");
        text.Append(staysOpen ? "\r\n" : "Connection: close\r\n\r\n");

        using var patience = new CancellationTokenSource(TimeToTake, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, patience.Token);
        byte[] answer = isHead ? Encoding.Latin1.GetBytes(text.ToString()) : [.. Encoding.Latin1.GetBytes(text.ToString()), .. page.Body.Span];
        for (var sent = 0; sent < answer.Length;)
            sent += await client.SendAsync(answer.AsMemory(sent), either.Token);
        if (!staysOpen)
            await PartAsync(client, stop);
        return staysOpen;
    }

    private (Page Page, bool IsHead, bool StaysOpen) Judge(string[] lines, bool isWhole)
    {
        var words = lines[0].Split(' ');
        if (!isWhole)
            return (new(lines.Length == 1 ? HttpStatusCode.RequestUriTooLong : HttpStatusCode.RequestHeaderFieldsTooLarge), false, false);
        if (words is not [var method, ['/', ..] target, "HTTP/1.1" or "HTTP/1.0"])
            return (new(HttpStatusCode.BadRequest), false, false);
        if (words[2] == "HTTP/1.1" && Header(lines, "Host") is null)
            return (new(HttpStatusCode.BadRequest), false, false);

        var isHead = method == "HEAD";
        var staysOpen = words[2] == "HTTP/1.1" && !string.Equals(Header(lines, "Connection"), "close", StringComparison.OrdinalIgnoreCase);
        if (Header(lines, "Transfer-Encoding") is not null || (Header(lines, "Content-Length") is { } length && length != "0"))
            return (new(isHead || method == "GET" ? HttpStatusCode.RequestEntityTooLarge : HttpStatusCode.MethodNotAllowed), isHead, false);
        if (!isHead && method != "GET")
            return (new(HttpStatusCode.MethodNotAllowed), false, staysOpen);
        try
        {
            return (pageOf(target.Split('?')[0], Header(lines, "Accept") ?? ""), isHead, staysOpen);
        }
        catch (Exception fault) // whatever a page met, it is that page's alone
        {
            logger.HealthPartFailed(fault, "A health page");
            return (new(HttpStatusCode.InternalServerError), isHead, false);
        }
    }

    /// <summary>Takes what still comes, within bounds: a connection closed on unread bytes would lose the answer on its way.</summary>
    private async Task PartAsync(Socket client, CancellationToken stop)
    {
        client.Shutdown(SocketShutdown.Send);
        using var patience = new CancellationTokenSource(TimeToDrain, time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, patience.Token);
        var scrap = ArrayPool<byte>.Shared.Rent(8 * 1024);
        try
        {
            for (var taken = 0; taken < MostDrainedBytes;)
            {
                var read = await client.ReceiveAsync(scrap, either.Token);
                if (read == 0)
                    return;
                taken += read;
            }
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(scrap);
        }
    }

    private static string? Header(string[] lines, string name)
    {
        foreach (var line in lines.AsSpan(1))
        {
            if (line.Length > name.Length && line[name.Length] == ':' && line.StartsWith(name, StringComparison.OrdinalIgnoreCase))
                return line[(name.Length + 1)..].Trim();
        }

        return null;
    }

    private static string Reason(HttpStatusCode status) => status switch
    {
        HttpStatusCode.OK => "OK",
        HttpStatusCode.BadRequest => "Bad Request",
        HttpStatusCode.NotFound => "Not Found",
        HttpStatusCode.MethodNotAllowed => "Method Not Allowed",
        HttpStatusCode.RequestEntityTooLarge => "Content Too Large",
        HttpStatusCode.RequestUriTooLong => "URI Too Long",
        HttpStatusCode.RequestHeaderFieldsTooLarge => "Request Header Fields Too Large",
        HttpStatusCode.ServiceUnavailable => "Service Unavailable",
        _ => "Internal Server Error",
    };
}
