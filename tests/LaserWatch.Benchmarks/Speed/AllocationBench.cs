using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;
using MQTTnet;
using MQTTnet.Protocol;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>What a sample allocates on its way from the socket to the verdict, and into the store besides, beside a bare client that only counts.</summary>
/// <remarks>All in this process, whose load allocates nothing; without ticks, which are a second's and not a sample's.</remarks>
public static class AllocationBench
{
    private const int Machines = 100;

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    public static Bench Bench { get; } = new("allocation", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        var messages = length == Length.Smoke ? 10_000 : 200_000;
        List<Figure> figures = [];
        foreach (var (qos, form) in new[] { (0, PayloadForm.Bare), (1, PayloadForm.Bare), (0, PayloadForm.Json) })
        {
            await using var broker = await Mosquitto.StartAsync(stop);
            var bare = await OfBareClientAsync(broker.Port, qos, form, messages, stop);
            var ours = await OfAgentAsync(broker.Port, qos, form, messages, stop);
            figures.Add(new Figure(
                $"bytes allocated a sample, socket to verdict and store, whole bytes, QoS {qos}{(form == PayloadForm.Json ? ", JSON" : "")}",
                Print(ours), $"{Print(bare)}, a bare client of MQTTnet", Math.Round(Math.Max(0, ours)), Goal.AtMost(0, "B"), (0, 5000)));
        }

        return figures;

        static string Print(double bytes) => string.Create(CultureInfo.InvariantCulture, $"{bytes:0.00} B");
    }

    private static async Task<double> OfBareClientAsync(int port, int qos, PayloadForm form, int messages, CancellationToken stop)
    {
        long count = 0;
        using var client = new MqttClientFactory().CreateMqttClient();
        client.ApplicationMessageReceivedAsync += _ =>
        {
            Interlocked.Increment(ref count);
            return Task.CompletedTask;
        };
        await client.ConnectAsync(new MqttClientOptionsBuilder().WithTcpServer("127.0.0.1", port).WithClientId("bare").Build(), stop);
        await client.SubscribeAsync(
            new MqttClientSubscribeOptionsBuilder().WithTopicFilter("laserwatch/+/+", MqttQualityOfServiceLevel.AtLeastOnce).Build(), stop);
        using var load = new ShopLoad(port, qos, Machines, form);
        return await PerMessageAsync(load, messages, () => Interlocked.Read(ref count), stop);
    }

    private static async Task<double> OfAgentAsync(int port, int qos, PayloadForm form, int messages, CancellationToken stop)
    {
        var folder = Directory.CreateTempSubdirectory("laserwatch-speed-");
        try
        {
            await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(folder.FullName, "store.db") });
            await using var writer = new SampleWriter(store, new SampleWriterOptions(), TimeProvider.System, NullLogger<SampleWriter>.Instance);
            var options = LaserWatchOptions.Default;
            var clock = new SteadyTime(TimeProvider.System);
            await using var link = new MqttClientLink(
                new ConfiguredBroker { Host = "127.0.0.1", Port = port, SessionExpiryHours = 0 }, ["laserwatch/+/+"], null, clock, seed: 1,
                NullLogger<MqttClientLink>.Instance);
            var topics = new Topics("laserwatch");
            await using var outbox = new AlarmOutbox(new MqttAlarmSink(link, topics), TimeProvider.System, NullLogger<AlarmOutbox>.Instance);
            var shop = new Shop(options.RulesOf, new JobBook());
            var status = new StatusPublisher(link, topics, TimeProvider.System, NullLogger<StatusPublisher>.Instance);
            using var figures = new WatchFigures();
            var pipeline = new WatchPipeline(
                new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable()), shop, writer, outbox,
                new DeliveryOutbox(options, TimeProvider.System, NullLogger<DeliveryOutbox>.Instance), link, status,
                new FloodTeller(options.Flood, shop, status, NullLogger<FloodTeller>.Instance),
                new RejectionLedger(NullLogger<RejectionLedger>.Instance), clock, figures, NullLogger<WatchPipeline>.Instance);
            var inbox = System.Threading.Channels.Channel.CreateBounded<RawMessage>(
                new System.Threading.Channels.BoundedChannelOptions(4 * InboxGate.Crowd) { SingleReader = true });
            using var end = CancellationTokenSource.CreateLinkedTokenSource(stop);
            writer.Kept = batch => figures.CountStored(batch, clock.Now);
            var linking = link.RunAsync(inbox, end.Token);
            var watching = pipeline.RunAsync(inbox.Reader, stop);
            while (!link.IsConnected)
                await Task.Delay(10, stop);
            double each;
            using (var load = new ShopLoad(port, qos, Machines, form))
                each = await PerMessageAsync(load, messages, () => figures.Stored, stop);
            await end.CancelAsync();
            await linking;
            inbox.Writer.Complete();
            await watching;
            return each;
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static async Task<double> PerMessageAsync(ShopLoad load, int messages, Func<long> taken, CancellationToken stop)
    {
        var all = load.Send(messages).Sent;
        await AwaitAsync();
        var before = GC.GetTotalAllocatedBytes(precise: true);
        var sent = load.Send(messages).Sent;
        all += sent;
        await AwaitAsync();
        return (GC.GetTotalAllocatedBytes(precise: true) - before) / (double)sent;

        async Task AwaitAsync()
        {
            using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
            patience.CancelAfter(Patience);
            while (taken() < all)
                await Task.Delay(100, patience.Token);
        }
    }
}
