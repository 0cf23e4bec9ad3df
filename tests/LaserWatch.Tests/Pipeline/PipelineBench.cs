using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Fakes;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Quantities;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Pipeline;

/// <summary>The pipeline with all its real parts but the broker, on a store that outlives it.</summary>
internal sealed class PipelineBench : IAsyncDisposable
{
    public static readonly Instant Start = Instant.FromUnixSeconds(1_773_043_200);

    /// <summary>A cut proven with 210 kPa of air.</summary>
    public static readonly JobRecord Birch = new(
        "birch-6-cut", Start - TimeSpan.FromDays(30), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(210), new Milliamps(18.2));

    private readonly System.Threading.Channels.Channel<RawMessage> _inbox = System.Threading.Channels.Channel.CreateUnbounded<RawMessage>();
    private readonly Task _running;
    private readonly AlarmOutbox _outbox;
    private readonly DeliveryOutbox _delivery;
    private ushort _packet;

    public PipelineBench(FaultyTelemetryStore? store = null, int mostMachines = Shop.MostMachines, SampleWriterOptions? writing = null,
        IReadOnlyList<TopicRule>? rules = null, SteadyTime? clock = null)
    {
        Store = store ?? new FaultyTelemetryStore();
        var jobs = new JobBook();
        jobs.Add(Birch);
        Shop = new Shop(_ => MonitorOptions.Default, jobs, mostMachines);
        Writer = new SampleWriter(Store, writing ?? new SampleWriterOptions(), TimeProvider.System, new LogLines<SampleWriter>());
        Rejections = new RejectionLedger(new LogLines<RejectionLedger>());
        _outbox = new AlarmOutbox(new ListSink(Announced), TimeProvider.System, new LogLines<AlarmOutbox>());
        var status = new StatusPublisher(Link, new Topics("laserwatch"), TimeProvider.System, new LogLines<StatusPublisher>());
        _delivery = new DeliveryOutbox(LaserWatchOptions.Default, TimeProvider.System, new LogLines<DeliveryOutbox>());
        Pipeline = new WatchPipeline(
            new MessageDecoder(PayloadOptions.Default, rules ?? [], [], Channels), Shop, Writer, _outbox, _delivery, Link, status,
            new FloodTeller(new FloodOptions(), Shop, status, FloodLog), Rejections,
            clock ?? new SteadyTime(new FakeTimeProvider(Start.ToDateTimeOffset())), Figures, Log);
        _running = Pipeline.RunAsync(_inbox.Reader, CancellationToken.None);
    }

    public FaultyTelemetryStore Store { get; }

    public Shop Shop { get; }

    public ChannelTable Channels { get; } = new();

    public SampleWriter Writer { get; }

    /// <summary>What was announced, in order; complete after <see cref="FinishAsync"/>.</summary>
    public List<AlarmChange> Announced { get; } = [];

    public WatchFigures Figures { get; } = new();

    public QuietLink Link { get; } = new();

    public RejectionLedger Rejections { get; }

    public WatchPipeline Pipeline { get; }

    public LogLines<WatchPipeline> Log { get; } = new();

    public LogLines<FloodTeller> FloodLog { get; } = new();

    /// <summary>Messages that were acknowledged, by their number.</summary>
    public List<int> Acknowledged { get; } = [];

    public static Instant At(double seconds) => Start + TimeSpan.FromSeconds(seconds);

    /// <summary>Takes up what a former bench left in the store, as the worker does.</summary>
    public async Task<Resumption.Outcome> ResumeAsync(Instant now)
    {
        var outcome = await new Resumption(Store, Shop, Channels, new LogLines<Resumption>()).RunAsync(CancellationToken.None);
        foreach (var watch in outcome.Watches)
            Pipeline.Resume(watch, now, outcome.SeenUntil);
        return outcome;
    }

    /// <summary>At QoS 0, without acknowledgement.</summary>
    public void Send(double second, string topic, string payload, bool retained = false) =>
        Send(new RawMessage("laserwatch/" + topic, Encoding.UTF8.GetBytes(payload), At(second), "agent", 0, false, retained, null));

    public void SendAgain(double second, string topic, string payload, ushort packet, int number, bool sentAgain) =>
        Send(new RawMessage("laserwatch/" + topic, Encoding.UTF8.GetBytes(payload), At(second), "agent", packet, sentAgain, false, () =>
        {
            lock (Acknowledged)
                Acknowledged.Add(number);
        }));

    /// <summary>At QoS 1; its number is acknowledged after the commit.</summary>
    public void SendSafely(double second, string topic, string payload, int number) =>
        SendAgain(second, topic, payload, ++_packet, number, sentAgain: false);

    public void Tick(double second) => Send(Ticker.TickAt(At(second)));

    public void Send(RawMessage message) => Assert.True(_inbox.Writer.TryWrite(message));

    /// <summary>A run of the birch job at a pressure, four samples a second.</summary>
    public void Cut(double from, double to, double kilopascals)
    {
        for (var second = from; second < to; second += 0.25)
            Send(second, "bay1/air_pressure", FormattableString.Invariant($"{kilopascals + ((second * 4) % 2)}"));
    }

    /// <summary>Waits until everything that was sent is judged and stored.</summary>
    public async Task SettleAsync()
    {
        await FinishAsync();
        await Writer.FlushAsync(CancellationToken.None).WaitAsync(TimeSpan.FromSeconds(30));
    }

    /// <summary>Waits until everything that was sent is judged, whatever the store does.</summary>
    public async Task FinishAsync()
    {
        _inbox.Writer.TryComplete();
        await _running.WaitAsync(TimeSpan.FromSeconds(30));
        Assert.True(await _outbox.CompleteAsync(TimeSpan.FromSeconds(30)));
    }

    public async Task<List<Sample>> SamplesAsync(string machine = "bay1")
    {
        var samples = new List<Sample>();
        await foreach (var sample in Store.ReadSamplesAsync(machine, null, Instant.MinValue, Instant.MaxValue, Channels, CancellationToken.None))
            samples.Add(sample);
        return samples;
    }

    public async Task<IReadOnlyList<AlarmChange>> AlarmLogAsync() =>
        await Store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, CancellationToken.None);

    public async ValueTask DisposeAsync()
    {
        await _outbox.DisposeAsync();
        await Writer.DisposeAsync();
    }

    private sealed class ListSink(List<AlarmChange> announced) : IAlarmSink
    {
        public string Name => "list";

        public Task DeliverAsync(AlarmChange change, bool restated, CancellationToken stop)
        {
            announced.Add(change);
            return Task.CompletedTask;
        }
    }
}
