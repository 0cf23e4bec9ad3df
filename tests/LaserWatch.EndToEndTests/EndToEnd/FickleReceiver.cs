using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;

namespace LaserWatch.EndToEnd;

/// <summary>What a receiver does with a request.</summary>
internal enum Mood
{
    Takes,

    /// <summary>Answers 503, and has not taken it.</summary>
    Refuses,

    HangsUpBeforeTheBody,

    /// <summary>Has taken it, and never says so: the sender must send it again.</summary>
    HangsUpAfterTheBody,

    /// <summary>Never answers, and keeps the line open.</summary>
    StaysSilent,
}

/// <summary>One message as it was taken.</summary>
internal sealed record Letter(string Id, AlarmChange Alarm, bool IsLate);

/// <summary>An HTTP receiver on loopback, on bare sockets, that takes messages, refuses them and hangs up as it is told for each.</summary>
internal sealed class FickleReceiver(Func<Mood> mood) : IAsyncDisposable
{
    private readonly List<Letter> _letters = [];
    private readonly List<TcpClient> _lines = [];
    private readonly CancellationTokenSource _stop = new();
    private TcpListener? _listener;
    private Task _accepting = Task.CompletedTask;
    private volatile Exception? _fault;
    private int _requests;

    public int Port { get; } = RealBroker.FreePort();

    public string Url => string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{Port}/alarms");

    /// <summary>Every message taken, second copies too, in the order of their taking.</summary>
    /// <exception cref="InvalidOperationException">A request was not as it must be.</exception>
    public IReadOnlyList<Letter> Letters
    {
        get
        {
            if (_fault is { } fault)
                throw new InvalidOperationException($"The receiver cannot read what was sent: {fault.Message}", fault);
            lock (_letters)
                return [.. _letters];
        }
    }

    /// <summary>The same without second copies: what a receiver keeps that looks at the id.</summary>
    public IReadOnlyList<Letter> Kept => [.. Letters.DistinctBy(letter => letter.Id)];

    /// <summary>Requests that were begun.</summary>
    public int Requests => Volatile.Read(ref _requests);

    public void Start()
    {
        _listener = new TcpListener(IPAddress.Loopback, Port);
        _listener.Start();
        _accepting = AcceptAsync(_listener);
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        _listener?.Stop();
        await _accepting;
        lock (_lines)
            _lines.ForEach(line => line.Dispose());
        _stop.Dispose();
    }

    private async Task AcceptAsync(TcpListener listener)
    {
        while (!_stop.IsCancellationRequested)
        {
            TcpClient line;
            try
            {
                line = await listener.AcceptTcpClientAsync(_stop.Token);
            }
            catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
            {
                return;
            }

            lock (_lines)
                _lines.Add(line);
            _ = ServeAsync(line);
        }
    }

    private async Task ServeAsync(TcpClient line)
    {
        try
        {
            using (line)
            {
                var stream = line.GetStream();
                while (await HeadAsync(stream) is { } head && await AnswerAsync(stream, head))
                {
                }
            }
        }
        catch (Exception e) when (e is IOException or OperationCanceledException or ObjectDisposedException)
        {
            // The agent was killed in the middle of a request, or the test is over.
        }
        catch (Exception e) // a request that is not as it must be: whoever looks at the letters hears of it
        {
            _fault = e;
        }
    }

    /// <returns>False where the line is to be closed.</returns>
    private async Task<bool> AnswerAsync(NetworkStream stream, Dictionary<string, string> head)
    {
        Interlocked.Increment(ref _requests);
        var mood = Next();
        if (mood == Mood.HangsUpBeforeTheBody)
            return false;
        if (mood == Mood.StaysSilent)
            await Task.Delay(Timeout.Infinite, _stop.Token);
        var body = new byte[int.Parse(head["content-length"], CultureInfo.InvariantCulture)];
        await stream.ReadExactlyAsync(body, _stop.Token);
        if (mood == Mood.Refuses)
        {
            await stream.WriteAsync("HTTP/1.1 503 Service Unavailable\r\nContent-Length: 0\r\n\r\n"u8.ToArray(), _stop.Token);
            return true;
        }

        Keep(head, body);
        if (mood == Mood.HangsUpAfterTheBody)
            return false;
        await stream.WriteAsync("HTTP/1.1 204 No Content\r\n\r\n"u8.ToArray(), _stop.Token);
        return true;
    }

    private Mood Next()
    {
        lock (_letters)
            return mood();
    }

    private void Keep(Dictionary<string, string> head, byte[] body)
    {
        Assert.True(AlarmJson.TryRead(body, out var alarm, out var mistake), mistake);
        using var json = JsonDocument.Parse(body);
        var id = head["idempotency-key"].Trim('"');
        Assert.Equal(id, json.RootElement.GetProperty("message_id").GetString());
        lock (_letters)
            _letters.Add(new(id, alarm!, head.ContainsKey("laserwatch-late")));
    }

    /// <returns>The headers by name in lower case; null where the other side is gone.</returns>
    private async Task<Dictionary<string, string>?> HeadAsync(NetworkStream stream)
    {
        var text = new StringBuilder();
        var one = new byte[1];
        while (!text.ToString().EndsWith("\r\n\r\n", StringComparison.Ordinal))
        {
            if (text.Length > 16_384)
                throw new IOException("the head of the request does not end");
            if (await stream.ReadAsync(one, _stop.Token) == 0)
                return null;
            text.Append((char)one[0]);
        }

        return text.ToString().Split("\r\n", StringSplitOptions.RemoveEmptyEntries).Skip(1).Select(l => l.Split(':', 2))
            .ToDictionary(p => p[0].ToLowerInvariant(), p => p[1].Trim());
    }
}
