using System.Diagnostics.Tracing;
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

/// <summary>What a sample allocates on its way from the socket to the verdict, and with the durable store behind it, beside a bare client that only counts.</summary>
/// <remarks>
/// All in this process, whose load allocates nothing; without ticks, which are a second's and not a sample's. Watches have learnt for some hours, and the shop's clock goes by what was judged,
/// so that a channel speaks each second. Messages go out a crowd at a time, the next when the one before is judged: queues have then been as long as they will be. What MQTTnet
/// allocates for each read of the socket is told apart by its types, of which the runtime tells one for each hundred kilobytes: that is right to some tenths of a byte a sample.
/// </remarks>
public static class AllocationBench
{
    private const int Machines = 100;

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    public static Bench Bench { get; } = new("allocation", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        // Four hours: longer than a watch learns, but for what it learns over months.
        var (learnt, first, counted) = length == Length.Smoke ? (TimeSpan.FromMinutes(10), 10_000, 10_000) : (TimeSpan.FromHours(4), 300_000, 600_000);
        List<Figure> figures = [];
        foreach (var (qos, form) in new[] { (0, PayloadForm.Bare), (1, PayloadForm.Bare), (0, PayloadForm.Json) })
        {
            await using var broker = await Mosquitto.StartAsync(stop);
            var bare = await OfBareClientAsync(broker.Port, qos, form, first / 6, counted / 6, stop);
            var judged = await OfAgentAsync(broker.Port, qos, form, learnt, first, counted, isKept: false, stop);
            var stored = await OfAgentAsync(broker.Port, qos, form, learnt, first, counted, isKept: true, stop);
            figures.Add(new Figure(
                $"bytes allocated a sample, socket to verdict, whole bytes, QoS {qos}{(form == PayloadForm.Json ? ", JSON" : "")}",
                $"{judged}; to the durable store {stored}", $"{bare.Ours + bare.Library:0.00} B, a bare client of MQTTnet", Math.Round(Math.Max(0, judged.Ours)), Goal.AtMost(0, "B"), (0, 5000)));
        }

        return figures;
    }

    private static async Task<Allocated> OfBareClientAsync(int port, int qos, PayloadForm form, int first, int counted, CancellationToken stop)
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
        return await PerMessageAsync(load, first, counted, () => Interlocked.Read(ref count), () => Task.CompletedTask, stop);
    }

    private static async Task<Allocated> OfAgentAsync(int port, int qos, PayloadForm form, TimeSpan learnt, int first, int counted, bool isKept, CancellationToken stop)
    {
        var folder = Directory.CreateTempSubdirectory("laserwatch-speed-");
        try
        {
            await using ITelemetryStore store = isKept ? SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(folder.FullName, "store.db") }) : new NothingKept();
            await using var writer = new SampleWriter(store, new SampleWriterOptions(), TimeProvider.System, NullLogger<SampleWriter>.Instance);
            var options = LaserWatchOptions.Default;
            using var figures = new WatchFigures();
            var clock = new SteadyTime(new LoadTime(figures));
            await using var link = new MqttClientLink(
                new ConfiguredBroker { Host = "127.0.0.1", Port = port, SessionExpiryHours = 0 }, ["laserwatch/+/+"], null, clock, seed: 1,
                NullLogger<MqttClientLink>.Instance);
            var topics = new Topics("laserwatch");
            await using var outbox = new AlarmOutbox(new MqttAlarmSink(link, topics), TimeProvider.System, NullLogger<AlarmOutbox>.Instance);
            var shop = new Shop(options.RulesOf, new JobBook());
            var status = new StatusPublisher(link, topics, TimeProvider.System, NullLogger<StatusPublisher>.Instance);
            for (var i = 0; i < Machines; i++)
                ShopLoad.Teach(shop.Find(ShopLoad.MachineName(i))!, learnt, clock.Now);
            var pipeline = new WatchPipeline(
                new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable()), shop, writer, outbox,
                new DeliveryOutbox(options, TimeProvider.System, NullLogger<DeliveryOutbox>.Instance), link, status,
                new FloodTeller(options.Flood, shop, status, NullLogger<FloodTeller>.Instance),
                new RejectionLedger(NullLogger<RejectionLedger>.Instance), clock, figures, NullLogger<WatchPipeline>.Instance);
            var inbox = WatchWorker.NewInbox();
            using var end = CancellationTokenSource.CreateLinkedTokenSource(stop);
            writer.Kept = batch => figures.CountStored(batch, clock.Now);
            var linking = link.RunAsync(inbox, end.Token);
            var watching = pipeline.RunAsync(inbox.Reader, stop);
            while (!link.IsConnected)
                await Task.Delay(10, stop);
            Allocated each;
            using (var load = new ShopLoad(port, qos, Machines, form))
                each = await PerMessageAsync(load, first, counted, () => figures.Messages, () => writer.FlushAsync(stop), stop);
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

    private static async Task<Allocated> PerMessageAsync(ShopLoad load, int first, int counted, Func<long> taken, Func<Task> settle, CancellationToken stop)
    {
        var all = 0L;
        await SendAsync(first);
        using var types = new AllocatedTypes();
        types.Begin();
        var before = GC.GetTotalAllocatedBytes(precise: true);
        var sent = await SendAsync(counted);
        var bytes = GC.GetTotalAllocatedBytes(precise: true) - before;
        var library = types.End();
        return new(Math.Max(0, bytes - library) / (double)sent, Math.Min(bytes, library) / (double)sent);

        async Task<long> SendAsync(int messages)
        {
            var sentBefore = all;
            while (all - sentBefore < messages)
            {
                all += load.Send(Math.Min(messages, InboxGate.Crowd / 2)).Sent;
                var began = TimeProvider.System.GetTimestamp();
                for (var wait = new SpinWait(); taken() < all; wait.SpinOnce())
                {
                    stop.ThrowIfCancellationRequested();
                    if (TimeProvider.System.GetElapsedTime(began) > Patience)
                        throw new TimeoutException($"Of {all} messages {taken()} came.");
                }
            }

            await settle();
            return all - sentBefore;
        }
    }

    /// <summary>Bytes for each message.</summary>
    /// <param name="Ours">What is not the library's.</param>
    private readonly record struct Allocated(double Ours, double Library)
    {
        public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Ours:0.00} B, and {Library:0.00} B of MQTTnet");
    }

    /// <summary>The clock of a shop each of whose channels speaks once a second.</summary>
    private sealed class LoadTime(WatchFigures figures) : TimeProvider
    {
        private readonly DateTimeOffset _begin = System.GetUtcNow();

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override DateTimeOffset GetUtcNow() => _begin + TimeSpan.FromTicks(GetTimestamp());

        public override long GetTimestamp() => figures.Messages * TimeSpan.TicksPerSecond / (Machines * ShopLoad.Channels);
    }

    /// <summary>How much is allocated of the client library's types: the runtime tells a type for each hundred kilobytes or so.</summary>
    private sealed class AllocatedTypes : EventListener
    {
        private const string Runtime = "Microsoft-Windows-DotNETRuntime";
        private const EventKeywords Collector = (EventKeywords)1;

        private EventSource? _runtime;
        private long _library;

        public void Begin() => EnableEvents(_runtime ?? throw new InvalidOperationException("The runtime tells nothing."), EventLevel.Verbose, Collector);

        public long End()
        {
            DisableEvents(_runtime!);
            return Interlocked.Read(ref _library);
        }

        protected override void OnEventSourceCreated(EventSource eventSource)
        {
            if (eventSource.Name == Runtime)
                _runtime = eventSource;
        }

        protected override void OnEventWritten(EventWrittenEventArgs eventData)
        {
            if (eventData.EventName?.StartsWith("GCAllocationTick", StringComparison.Ordinal) != true || eventData.PayloadNames is not { } names)
                return;
            var type = (string)eventData.Payload![names.IndexOf("TypeName")]!;

            // Its reads of the socket end in a task of a number, which nothing else here makes.
            if (type.Contains("MQTTnet", StringComparison.Ordinal) || type.StartsWith("System.Threading.Tasks.Task`1[System.Int32", StringComparison.Ordinal))
                Interlocked.Add(ref _library, (long)(ulong)eventData.Payload[names.IndexOf("AllocationAmount64")]!);
        }
    }
}
