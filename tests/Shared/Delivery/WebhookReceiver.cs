using System.Net;
using LaserWatch.Mqtt;

namespace LaserWatch.Delivery;

/// <summary>An HTTP server on loopback that keeps what is posted to it, and answers what it is told to.</summary>
internal sealed class WebhookReceiver : IAsyncDisposable
{
    private readonly List<Post> _posts = [];
    private readonly Queue<Answer> _answers = new();
    private HttpListener? _listener;
    private Task _serving = Task.CompletedTask;

    public WebhookReceiver(bool up = true)
    {
        Port = RealBroker.FreePort();
        if (up)
            Start();
    }

    public int Port { get; }

    public string Url => $"http://127.0.0.1:{Port}/alarms";

    /// <summary>What was taken: answered by 2xx.</summary>
    public IReadOnlyList<Post> Taken => [.. Posts.Where(p => p.Status is >= 200 and < 300)];

    public IReadOnlyList<Post> Posts
    {
        get
        {
            lock (_posts)
                return [.. _posts];
        }
    }

    public void Start()
    {
        _listener = new HttpListener();
        _listener.Prefixes.Add($"http://127.0.0.1:{Port}/");
        _listener.Start();
        _serving = ServeAsync(_listener);
    }

    public async Task StopAsync()
    {
        _listener?.Abort();
        await _serving;
    }

    /// <summary>Answers of the requests to come, in order; after them 200.</summary>
    public void Answer(params Answer[] answers)
    {
        lock (_posts)
        {
            foreach (var answer in answers)
                _answers.Enqueue(answer);
        }
    }

    public Task HasTakenAsync(int count) => RealBroker.UntilAsync(() => Taken.Count >= count, $"{count} posts were not taken, but {Taken.Count}");

    public async ValueTask DisposeAsync() => await StopAsync();

    private async Task ServeAsync(HttpListener listener)
    {
        while (true)
        {
            HttpListenerContext context;
            try
            {
                context = await listener.GetContextAsync();
            }
            catch (Exception e) when (e is HttpListenerException or ObjectDisposedException)
            {
                return;
            }

            using var body = new StreamReader(context.Request.InputStream);
            var text = await body.ReadToEndAsync();
            var headers = context.Request.Headers.AllKeys.ToDictionary(k => k!.ToLowerInvariant(), k => context.Request.Headers[k]!);
            Answer answer;
            lock (_posts)
            {
                if (!_answers.TryDequeue(out answer))
                    answer = new(200);
                _posts.Add(new(context.Request.HttpMethod, context.Request.Url!.AbsoluteUri, headers, text, answer.Status));
            }

            context.Response.StatusCode = answer.Status;
            if (answer.RetryAfter is not null)
                context.Response.AddHeader("Retry-After", answer.RetryAfter);
            if (answer.Location is not null)
                context.Response.AddHeader("Location", answer.Location);
            context.Response.Close();
        }
    }
}

internal readonly record struct Answer(int Status, string? RetryAfter = null, string? Location = null);

internal sealed record Post(string Method, string Url, IReadOnlyDictionary<string, string> Headers, string Body, int Status)
{
    public string Id => Headers["idempotency-key"].Trim('"');

    public bool IsLate => Headers.ContainsKey("laserwatch-late");
}
