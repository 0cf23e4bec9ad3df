using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;
using LaserWatch.Fuzz;
using LaserWatch.Mqtt;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit.Abstractions;

namespace LaserWatch.Health;

/// <summary>What a stranger may do to the pages' port: slow, in pieces, too much, or nonsense.</summary>
public sealed class PageServerTests(ITestOutputHelper output) : IAsyncLifetime, IAsyncDisposable
{
    private const string Asked = "GET /page HTTP/1.1\r\nHost: a\r\n\r\n";

    private PageServer _server = null!;
    private Uri _place = null!;

    public async Task InitializeAsync()
    {
        _server = new PageServer(
            path => path == "/page" ? new Page(HttpStatusCode.OK, "text/plain", "the page"u8.ToArray()) : new Page(HttpStatusCode.NotFound), NullLogger.Instance);
        _place = await _server.StartAsync(new IPEndPoint(IPAddress.Loopback, 0), default);
    }

    async Task IAsyncLifetime.DisposeAsync() => await DisposeAsync();

    public ValueTask DisposeAsync() => _server.DisposeAsync();

    [Fact]
    public async Task A_request_in_single_bytes_is_answered_as_a_whole_one()
    {
        using var client = Connect();
        foreach (var c in Asked)
            client.Send([(byte)c]);

        Assert.EndsWith("\r\n\r\nthe page", await ReadAsync(client, "the page"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Two_requests_sent_together_are_answered_one_after_the_other()
    {
        using var client = Connect();
        client.Send(Encoding.ASCII.GetBytes(Asked + "GET /none HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n"));
        var answer = await ReadToEndAsync(client);

        Assert.StartsWith("HTTP/1.1 200 OK\r\n", answer, StringComparison.Ordinal);
        Assert.Contains("the pageHTTP/1.1 404 Not Found\r\n", answer, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Who_does_not_finish_asking_is_let_go_after_five_seconds()
    {
        using var client = Connect();
        client.Send("GET /page"u8);
        var gone = ReadToEndAsync(client);
        var asked = Stopwatch.GetTimestamp();

        Assert.StartsWith("HTTP/1.1 408 ", await gone, StringComparison.Ordinal);
        Assert.InRange(Stopwatch.GetElapsedTime(asked), TimeSpan.FromSeconds(4), TimeSpan.FromSeconds(15));
    }

    [Fact]
    public async Task A_head_without_an_end_is_refused_and_taken_no_further()
    {
        using var client = Connect();
        client.Send(Encoding.ASCII.GetBytes("GET /page HTTP/1.1\r\nX: " + new string('x', 8 * 1024)));

        Assert.StartsWith("HTTP/1.1 431 ", await ReadAsync(client, "\r\n\r\n"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Beyond_thirty_two_connections_a_client_is_turned_away_and_a_place_that_is_free_again_is_given()
    {
        var clients = Enumerable.Range(0, 32).Select(_ => Connect()).ToList();
        foreach (var client in clients)
        {
            client.Send(Encoding.ASCII.GetBytes(Asked));
            await ReadAsync(client, "the page");
        }

        using (var oneMore = Connect())
            Assert.Equal("", await ReadToEndAsync(oneMore));
        clients.ForEach(client => client.Dispose());

        for (var tries = 0; ; tries++)
        {
            using var later = Connect();
            later.Send(Encoding.ASCII.GetBytes(Asked.Replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n", StringComparison.Ordinal)));
            var answer = await ReadToEndAsync(later);
            if (answer.Length > 0 || tries == 100)
            {
                Assert.EndsWith("the page", answer, StringComparison.Ordinal);
                break;
            }
        }
    }

    [Fact]
    public async Task No_bytes_bring_it_down_or_get_an_answer_that_is_none()
    {
        string[] seeds =
        [
            Asked, "HEAD /page HTTP/1.0\r\n\r\n", "GET /page?x=1 HTTP/1.1\r\nHost: [::1]:1\r\nAccept: text/plain;q=0.5, */*\r\nConnection: keep-alive\r\n\r\n",
            "POST /page HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\n\r\nabc",
        ];
        new Fuzzing(output, [.. seeds.Select(Encoding.ASCII.GetBytes)], ["\r\n\r\n", "HTTP/1.1", "Transfer-Encoding: chunked\r\n", "Content-Length: ", "-1", "99999999999999999999"], bytes =>
        {
            using var client = Connect();
            client.ReceiveTimeout = 10_000;
            try
            {
                client.Send(bytes);
                client.Shutdown(SocketShutdown.Send);
            }
            catch (SocketException)
            {
                return; // it had enough before we were done
            }

            var answer = new byte[64 * 1024];
            var length = 0;
            try
            {
                for (int read; length < answer.Length && (read = client.Receive(answer, length, answer.Length - length, SocketFlags.None)) > 0;)
                    length += read;
            }
            catch (SocketException end) when (end.SocketErrorCode == SocketError.ConnectionReset)
            {
                // It closed on bytes that it had not read.
            }

            if (length > 0)
                Assert.StartsWith("HTTP/1.1 ", Encoding.Latin1.GetString(answer, 0, length), StringComparison.Ordinal);
        }).Run(cases: 3_000);

        using var sane = Connect();
        sane.Send(Encoding.ASCII.GetBytes(Asked));
        Assert.StartsWith("HTTP/1.1 200 OK", await ReadAsync(sane, "the page"), StringComparison.Ordinal);
    }

    private Socket Connect()
    {
        var client = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp);
        client.Connect(IPAddress.Loopback, _place.Port);
        return client;
    }

    private static Task<string> ReadToEndAsync(Socket client) => ReadAsync(client, null);

    private static async Task<string> ReadAsync(Socket client, string? until)
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(20));
        var text = new StringBuilder();
        var buffer = new byte[4096];
        while (until is null || !text.ToString().Contains(until, StringComparison.Ordinal))
        {
            try
            {
                var read = await client.ReceiveAsync(buffer, patience.Token);
                if (read == 0)
                    break;
                text.Append(Encoding.Latin1.GetString(buffer, 0, read));
            }
            catch (SocketException gone) when (gone.SocketErrorCode == SocketError.ConnectionReset)
            {
                break;
            }
        }

        return text.ToString();
    }
}
