using System.Diagnostics;
using System.Globalization;
using System.Net;
using MQTTnet;
using MQTTnet.Protocol;
using MQTTnet.Server;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>What the agent is measured against, as a process of its own: this very program, started with a word that people need not know.</summary>
/// <remarks>
/// It says <c>ready</c>, and for each line <c>N</c> on its input tells when it has received N messages more: a time stamp, which all
/// processes of a machine share.
/// </remarks>
internal sealed class Yardstick : IAsyncDisposable
{
    public const string Word = "yardstick";

    private readonly Process _process;

    private Yardstick(Process process) => _process = process;

    public TimeSpan ProcessorTime
    {
        get
        {
            _process.Refresh();
            return _process.TotalProcessorTime;
        }
    }

    /// <param name="kind">client, broker or echo.</param>
    public static async Task<Yardstick> StartAsync(string kind, int port, CancellationToken stop)
    {
        var start = new ProcessStartInfo("dotnet", [typeof(Yardstick).Assembly.Location, Word, kind, port.ToString(CultureInfo.InvariantCulture)])
        {
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
        };
        var yardstick = new Yardstick(Process.Start(start) ?? throw new MissingPartException("the yardstick does not start"));
        if (await yardstick._process.StandardOutput.ReadLineAsync(stop) != "ready")
            throw new InvalidOperationException("The yardstick does not come up.");
        return yardstick;
    }

    public async Task ExpectAsync(int messages, CancellationToken stop)
    {
        await _process.StandardInput.WriteLineAsync(messages.ToString(CultureInfo.InvariantCulture).AsMemory(), stop);
        await _process.StandardInput.FlushAsync(stop);
        if (await _process.StandardOutput.ReadLineAsync(stop) != "waiting")
            throw new InvalidOperationException("The yardstick does not count.");
    }

    /// <summary>The time stamp at which all had come.</summary>
    public async Task<long> DoneAsync(CancellationToken stop)
    {
        var line = await _process.StandardOutput.ReadLineAsync(stop).AsTask().WaitAsync(TimeSpan.FromSeconds(60), stop);
        return long.Parse(line ?? throw new InvalidOperationException("The yardstick has ended."), CultureInfo.InvariantCulture);
    }

    public async ValueTask DisposeAsync()
    {
        _process.Kill();
        await _process.WaitForExitAsync();
        _process.Dispose();
    }

    /// <summary>The life of the started process.</summary>
    public static async Task<int> RunAsync(string kind, int port)
    {
        var counter = new Counter();
        switch (kind)
        {
            case "client":
                await StartClientAsync(port, counter, echo: false);
                break;
            case "echo":
                await StartClientAsync(port, counter, echo: true);
                break;
            case "broker":
                await StartBrokerAsync(port, counter);
                break;
            default:
                return 2;
        }

        await Console.Out.WriteLineAsync("ready");
        while (await Console.In.ReadLineAsync() is { } line)
        {
            var done = counter.Expect(int.Parse(line, CultureInfo.InvariantCulture));
            await Console.Out.WriteLineAsync("waiting");
            await Console.Out.WriteLineAsync((await done).ToString(CultureInfo.InvariantCulture));
        }

        return 0;
    }

    private static async Task StartClientAsync(int port, Counter counter, bool echo)
    {
        var client = new MqttClientFactory().CreateMqttClient();
        client.ApplicationMessageReceivedAsync += args =>
        {
            counter.Count();
            return echo ? EchoAsync(client, args.ApplicationMessage) : Task.CompletedTask;
        };
        await client.ConnectAsync(new MqttClientOptionsBuilder()
            .WithTcpServer("127.0.0.1", port).WithProtocolVersion(MQTTnet.Formatter.MqttProtocolVersion.V500).WithClientId($"{Word}-{Guid.NewGuid():N}").Build());
        await client.SubscribeAsync(new MqttClientSubscribeOptionsBuilder()
            .WithTopicFilter(echo ? LatencyBench.Triggers : "laserwatch/+/+", MqttQualityOfServiceLevel.AtLeastOnce).Build());
    }

    // At QoS 0, though alarms go out at QoS 1, and hearing nothing else: under the whole load the library's client falls behind and loses some.
    private static Task EchoAsync(IMqttClient client, MqttApplicationMessage message) =>
        client.PublishAsync(new MqttApplicationMessage
        {
            Topic = LatencyBench.EchoOf(message.Topic),
            Payload = message.Payload,
            QualityOfServiceLevel = MqttQualityOfServiceLevel.AtMostOnce,
            Retain = true,
        });

    private static async Task StartBrokerAsync(int port, Counter counter)
    {
        var options = new MqttServerOptionsBuilder()
            .WithDefaultEndpoint().WithDefaultEndpointPort(port).WithDefaultEndpointBoundIPAddress(IPAddress.Loopback)
            .WithPersistentSessions().WithMaxPendingMessagesPerClient(10_000).Build();
        var server = new MqttServerFactory().CreateMqttServer(options);
        server.InterceptingPublishAsync += _ =>
        {
            counter.Count();
            return Task.CompletedTask;
        };
        await server.StartAsync();
    }

    private sealed class Counter
    {
        private long _count;
        private long _target = long.MaxValue;
        private long _reached;
        private TaskCompletionSource<long> _done = new();

        public void Count()
        {
            if (Interlocked.Increment(ref _count) == Volatile.Read(ref _target))
                _done.TrySetResult(Stopwatch.GetTimestamp());
        }

        public Task<long> Expect(int messages)
        {
            _done = new(TaskCreationOptions.RunContinuationsAsynchronously);
            Volatile.Write(ref _target, _reached += messages);
            return _done.Task;
        }
    }
}
