using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Rules;

namespace LaserWatch.Delivery;

public sealed class WebhookOutletTests : IAsyncDisposable
{
    private readonly WebhookReceiver _receiver = new();

    [Fact]
    public async Task An_alarm_is_posted_as_on_its_topic_with_its_id()
    {
        await using var bench = await Bench().StartAsync();
        var change = bench.Post();
        await _receiver.HasTakenAsync(1);

        var post = Assert.Single(_receiver.Posts);
        Assert.Equal(("POST", _receiver.Url, "application/json"), (post.Method, post.Url, post.Headers["content-type"]));
        Assert.Equal(change.Id(), post.Id);
        Assert.False(post.IsLate);
        Assert.True(AlarmJson.TryRead(Encoding.UTF8.GetBytes(post.Body), out var read, out _));
        Assert.Equal(AlarmJson.ToUtf8(change), AlarmJson.ToUtf8(read!));
        SentKeys.HoldIn(post.Body);
        var root = JsonDocument.Parse(post.Body).RootElement;
        Assert.Equal((change.Id(), change.Id(), "news", false), (
            root.GetProperty("id").GetString(), root.GetProperty("message_id").GetString(), root.GetProperty("cause").GetString(), root.GetProperty("late").GetBoolean()));
    }

    [Fact]
    public async Task With_a_secret_the_request_is_signed_over_all_that_matters()
    {
        using var secret = new TemporaryFile("between us\n");
        await using var bench = await Bench(o => o with { Secret = new Secret { File = secret.Path }, KeyId = "shop-1" }).StartAsync();
        bench.Post();
        await _receiver.HasTakenAsync(1);

        var post = Assert.Single(_receiver.Posts);
        Assert.Equal("shop-1", SignedPost.Verify(post, "between us"));
        Assert.Contains($";created={DeliveryBench.Start.ToUnixTimeSeconds()};", post.Headers["signature-input"], StringComparison.Ordinal);
        Assert.Throws<InvalidDataException>(() => SignedPost.Verify(post, "something else"));
        Assert.Throws<InvalidDataException>(() => SignedPost.Verify(post with { Body = post.Body.Replace("31.2", "21.2", StringComparison.Ordinal) }, "between us"));
    }

    [Fact]
    public async Task What_comes_late_says_so_and_the_mark_is_signed_too()
    {
        using var secret = new TemporaryFile("between us");
        await using var bench = await Bench(o => o with { Secret = new Secret { File = secret.Path } }).StartAsync();
        await _receiver.StopAsync();
        bench.Post();
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0].Failures > 0, "no attempt failed");
        bench.Time.Advance(TimeSpan.FromSeconds(61));
        _receiver.Start();
        await bench.LaterAsync(() => _receiver.Taken.Count > 0, "it was not delivered");

        var post = Assert.Single(_receiver.Taken);
        Assert.Equal("true", post.Headers["laserwatch-late"]);
        Assert.Contains("\"laserwatch-late\"", post.Headers["signature-input"], StringComparison.Ordinal);
        Assert.Equal("office", SignedPost.Verify(post, "between us"));
        Assert.True(JsonDocument.Parse(post.Body).RootElement.GetProperty("late").GetBoolean());
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0].Late == 1, "it was not counted as late");
    }

    [Fact]
    public async Task After_503_it_is_sent_again_under_the_same_id_and_the_log_tells_twice()
    {
        _receiver.Answer(new(503), new(503));
        await using var bench = await Bench().StartAsync();
        var change = bench.Post();
        await bench.LaterAsync(() => _receiver.Taken.Count > 0, "it was not delivered");

        Assert.Equal([(change.Id(), 503), (change.Id(), 503), (change.Id(), 200)], _receiver.Posts.Select(p => (p.Id, p.Status)));
        await RealBroker.UntilAsync(() => bench.Log.All.Count == 2, "the log does not tell twice");
        Assert.Equal(
            ["Alarms cannot be delivered to office: 127.0.0.1 answers 503 Service Unavailable. They wait, 1 so far; tried again",
             "Alarms are delivered to office again, after 2 failed attempts"],
            bench.Log.All.Select(l => l.Text));
    }

    [Fact]
    public async Task What_is_refused_for_good_is_told_once_set_aside_and_the_next_goes_on()
    {
        _receiver.Answer(new Answer(422));
        await using var bench = await Bench().StartAsync();
        bench.Post();
        bench.Post(Conditions.CoolantCold);
        await _receiver.HasTakenAsync(1);

        Assert.Equal([422, 200], _receiver.Posts.Select(p => p.Status));
        Assert.StartsWith("office refuses the message about coolant-hot of bay1 (unacknowledged) for good: 127.0.0.1 answers 422", Assert.Single(bench.Log.Warnings), StringComparison.Ordinal);
        await bench.RestartAsync();
        bench.Post(Conditions.TubeLife);
        await _receiver.HasTakenAsync(2);
        Assert.Equal(3, _receiver.Posts.Count);
    }

    [Theory]
    [InlineData(401)]
    [InlineData(404)]
    [InlineData(408)]
    [InlineData(425)]
    [InlineData(429)]
    [InlineData(500)]
    public async Task What_may_pass_is_tried_again(int status)
    {
        _receiver.Answer(new Answer(status));
        await using var bench = await Bench().StartAsync();
        bench.Post();
        await bench.LaterAsync(() => _receiver.Taken.Count > 0, "it was not delivered");

        Assert.Equal([status, 200], _receiver.Posts.Select(p => p.Status));
    }

    [Fact]
    public async Task A_receiver_that_asks_for_patience_gets_it_within_bounds()
    {
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(DeliveryBench.Start);
        using var outlet = new WebhookOutlet("office", new WebhookOptions { Url = _receiver.Url }, time);
        _receiver.Answer(new(429, RetryAfter: "120"), new(503, RetryAfter: "Mon, 09 Mar 2026 08:00:30 GMT"), new(503, RetryAfter: "999999"), new(503, RetryAfter: "soon"));
        var asked = new List<TimeSpan?>();
        for (var i = 0; i < 4; i++)
            asked.Add((await outlet.SendAsync(Message(), CancellationToken.None)).NotBefore);

        Assert.Equal([TimeSpan.FromSeconds(120), TimeSpan.FromSeconds(30), TimeSpan.FromHours(1), null], asked);
    }

    [Fact]
    public async Task Over_https_it_gets_in_with_the_authority_named_and_not_without()
    {
        await using var receiver = new HttpsReceiver();
        using var trusting = new WebhookOutlet("office", new WebhookOptions { Url = receiver.Url, CaFile = receiver.CaFile }, TimeProvider.System);
        using var doubting = new WebhookOutlet("office", new WebhookOptions { Url = receiver.Url }, TimeProvider.System);
        using var misled = new WebhookOutlet("office", new WebhookOptions { Url = receiver.Url.Replace("127.0.0.1", "localhost", StringComparison.Ordinal), CaFile = receiver.CaFile }, TimeProvider.System);

        Assert.Equal(OutletAnswer.Delivered, await trusting.SendAsync(Message(), CancellationToken.None));
        Assert.Equal(OutletOutcome.Later, (await doubting.SendAsync(Message(), CancellationToken.None)).Outcome);
        Assert.Equal(OutletOutcome.Later, (await misled.SendAsync(Message(), CancellationToken.None)).Outcome); // another name than in the certificate
        Assert.Equal(1, receiver.Taken);
    }

    [Fact]
    public async Task A_receiver_that_hangs_is_left_after_the_timeout()
    {
        using var listener = new System.Net.Sockets.TcpListener(System.Net.IPAddress.Loopback, 0);
        listener.Start(); // takes the connection, and never answers
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(DeliveryBench.Start);
        using var outlet = new WebhookOutlet("office", new WebhookOptions { Url = $"http://{listener.LocalEndpoint}/" }, time);

        var sending = outlet.SendAsync(Message(), CancellationToken.None);
        Assert.False(sending.IsCompleted);
        time.Advance(TimeSpan.FromSeconds(10));
        Assert.Equal(OutletAnswer.Later("no answer within 10 s"), await sending);
    }

    [Fact]
    public async Task A_redirect_is_not_followed()
    {
        await using var elsewhere = new WebhookReceiver();
        _receiver.Answer(new Answer(307, Location: elsewhere.Url));
        using var outlet = new WebhookOutlet("office", new WebhookOptions { Url = _receiver.Url }, TimeProvider.System);

        var answer = await outlet.SendAsync(Message(), CancellationToken.None);

        Assert.Equal(OutletAnswer.Later("127.0.0.1 answers 307 Temporary Redirect, and redirects are not followed; put 'url' right"), answer);
        Assert.Empty(elsewhere.Posts);
    }

    [Fact]
    public async Task A_secret_that_is_gone_makes_it_wait_and_is_not_sent_unsigned()
    {
        using var outlet = new WebhookOutlet("office", new WebhookOptions { Url = _receiver.Url, Secret = new Secret { File = "/nowhere/secret" } }, TimeProvider.System);

        var answer = await outlet.SendAsync(Message(), CancellationToken.None);

        Assert.Equal(OutletOutcome.Later, answer.Outcome);
        Assert.Contains("'/nowhere/secret' cannot be read", answer.Why, StringComparison.Ordinal);
        Assert.Empty(_receiver.Posts);
    }

    public ValueTask DisposeAsync() => _receiver.DisposeAsync();

    private static AlarmMessage Message()
    {
        var change = new AlarmChange(new(1), "bay1", "coolant-hot", AlarmState.Unacknowledged, AlarmPriority.High, 31.2, 30, "°C", null, "hot", [], []);
        return new(change.Id(), MessageCause.News, [new(change, AlarmTransition.Raised, null, null, [])], new(1));
    }

    private DeliveryBench Bench(Func<WebhookOptions, WebhookOptions>? change = null)
    {
        var options = new WebhookOptions { Url = _receiver.Url };
        return new() { Options = new() { Webhooks = new Dictionary<string, WebhookOptions> { ["office"] = change?.Invoke(options) ?? options } } };
    }
}
