using System.Diagnostics;
using System.Globalization;
using System.Threading.Channels;
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

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Processor time of all that a sample costs from its message's bytes to verdict and store, in one shop of a thousand and in a thousand shops of one.</summary>
/// <remarks>
/// The whole pipeline as the agent runs it, in this process: decoder, stamps, rules, ticks, statuses as they go out, saved states, the writer and SQLite; only
/// the network is left out, which would make what grows look smaller. Every machine lives through the same seconds with the same messages, so
/// both do the same work; a machine's messages of a second come one after the other. Time is the messages', and runs as fast as they are taken: so
/// a commit brings of the one alone what would take it minutes, in one block, and of the thousand a few seconds of each. A real machine alone
/// pays for two commits a second by itself.
/// </remarks>
internal static class PipelineGrowth
{
    private const int First = 3000;

    /// <summary>The feeder waits while so many samples wait for the disk.</summary>
    private const int MostWaiting = 60_000;

    public static async Task<IReadOnlyList<Figure>> MeasureAsync(RecordedDays days, Length length, CancellationToken stop) =>
    [
        await MeasureAsync("its message's bytes to verdict and store", days, true, length, stop),
        await MeasureAsync("the same without the disk", days, false, length, stop),
    ];

    private static async Task<Figure> MeasureAsync(string what, RecordedDays days, bool isKept, Length length, CancellationToken stop)
    {
        var whole = length == Length.Whole;
        var (machines, seconds, rounds) = whole ? (1000, 120, 5) : (40, 60, 2);
        int[] groups = whole ? [1, 100, machines] : [1, machines];
        var folder = Directory.CreateTempSubdirectory("laserwatch-speed-");
        try
        {
            var each = groups.Select(_ => new List<double>()).ToArray();
            var plants = groups.Select(together =>
                new Plant(days, isKept ? SqliteTelemetryStore.Open(new StoreOptions { Path = Path.Combine(folder.FullName, $"{together}.db") }) : new NothingKept(), machines, together)).ToArray();
            try
            {
                // The first round learns, and is compiled.
                for (var round = 0; round < rounds; round++)
                {
                    for (var g = 0; g < plants.Length; g++)
                    {
                        var nanoseconds = await plants[g].PlayAsync(First + (round * seconds), seconds, stop);
                        if (round > 0)
                            each[g].Add(nanoseconds);
                    }
                }
            }
            finally
            {
                foreach (var plant in plants)
                    await plant.DisposeAsync();
            }

            var growth = Median(each[^1].Zip(each[0], (many, one) => many / one)) - 1;
            var course = string.Join(", ", groups.Select((g, i) => string.Create(CultureInfo.InvariantCulture, $"{g}: {Median(each[i]):0}")));
            return new Figure(
                $"one machine to {machines}: processor time a sample, {what}",
                string.Create(CultureInfo.InvariantCulture, $"{Median(each[^1]):0} ns"),
                string.Create(CultureInfo.InvariantCulture, $"{Median(each[0]):0} ns, one alone ({course})"),
                100 * growth, Goal.AtMost(20, "%"), (-80, 900));
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return (sorted[sorted.Length / 2] + sorted[(sorted.Length - 1) / 2]) / 2;
    }

    /// <summary>All machines, so many of them to a shop, over one store.</summary>
    private sealed class Plant : IAsyncDisposable
    {
        private readonly ITelemetryStore _store;
        private readonly SampleWriter _writer;
        private readonly AlarmOutbox _outbox;
        private readonly WatchFigures _figures = new();
        private readonly List<(WatchPipeline Pipeline, Feeder Feeder)> _shops = [];
        private long _sent;

        public Plant(RecordedDays days, ITelemetryStore store, int machines, int together)
        {
            _store = store;
            _writer = new SampleWriter(_store, new SampleWriterOptions(), TimeProvider.System, NullLogger<SampleWriter>.Instance);
            var (link, topics, options) = (new NoNetwork(), new Topics("laserwatch"), LaserWatchOptions.Default);
            _outbox = new AlarmOutbox(new MqttAlarmSink(link, topics), TimeProvider.System, NullLogger<AlarmOutbox>.Instance);
            var delivery = new DeliveryOutbox(options, TimeProvider.System, NullLogger<DeliveryOutbox>.Instance);
            var jobs = new JobBook();
            foreach (var job in SimulatedShop.Jobs)
                jobs.Add(job);
            for (var from = 0; from < machines; from += together)
            {
                var shop = new Shop(options.RulesOf, jobs);
                var time = new MessageTime(days.At(First));
                var status = new StatusPublisher(link, topics, time, NullLogger<StatusPublisher>.Instance);
                var pipeline = new WatchPipeline(
                    new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable()), shop, _writer, _outbox, delivery, link, status,
                    new FloodTeller(options.Flood, shop, status, NullLogger<FloodTeller>.Instance),
                    new RejectionLedger(NullLogger<RejectionLedger>.Instance), new SteadyTime(time), _figures, NullLogger<WatchPipeline>.Instance);
                _shops.Add((pipeline, new Feeder(days, time, _writer, status, from, Math.Min(together, machines - from))));
            }
        }

        /// <returns>Nanoseconds of processor time for each sample.</returns>
        public async Task<double> PlayAsync(int first, int seconds, CancellationToken stop)
        {
            var before = Environment.CpuUsage.TotalTime;
            var samples = 0L;
            foreach (var (pipeline, feeder) in _shops)
            {
                feeder.Begin(first, seconds);
                await pipeline.RunAsync(feeder, stop);
                samples += feeder.Sent;
            }

            await _writer.FlushAsync(stop);
            var spent = Environment.CpuUsage.TotalTime - before;
            _sent += samples;
            if (_figures.Judgements != _sent || _writer.RefusedItems > 0)
                throw new InvalidOperationException($"Of {_sent} samples {_figures.Judgements} were judged, and {_writer.RefusedItems} not stored.");
            return spent.TotalNanoseconds / samples;
        }

        public async ValueTask DisposeAsync()
        {
            await _writer.DisposeAsync();
            await _outbox.DisposeAsync();
            await _store.DisposeAsync();
            _figures.Dispose();
        }
    }

    /// <summary>The inbox: hands out each message as it is asked for it, so that no other thread is in the measurement.</summary>
    private sealed class Feeder(RecordedDays days, MessageTime time, SampleWriter writer, StatusPublisher status, int firstMachine, int machines) : ChannelReader<RawMessage>
    {
        private readonly string[][] _topics =
        [
            .. Enumerable.Range(firstMachine, machines).Select(m => Telemetry.Channel.Canonical.Select(c => $"{PayloadOptions.Default.Root}/bay{m}/{c.Name}").ToArray()),
        ];

        private int _second;
        private int _until;
        private int _machine;
        private int _value;
        private Instant _at;

        public long Sent { get; private set; }

        public void Begin(int first, int seconds)
        {
            (_second, _until, _machine, _value, Sent) = (first, first + seconds, 0, 0, 0);
            _at = time.GoTo(days.At(first));
        }

        public override bool TryRead(out RawMessage item)
        {
            item = default;
            if (_second == _until)
                return false;
            var values = days.ValuesAt(_second);
            if (_machine == machines || values.Length == 0)
            {
                if (writer.Waiting > MostWaiting)
                    return false;
                // The publisher's own loop waits by the clock on the wall.
                if (!status.LookAsync(default).IsCompletedSuccessfully)
                    throw new InvalidOperationException("A status was not published at once.");
                item = Ticker.TickAt(_at);
                (_machine, _value) = (0, 0);
                if (++_second < _until)
                    _at = time.GoTo(days.At(_second));
                return true;
            }

            item = new RawMessage(_topics[_machine][values[_value].Channel.Index], days.TextsAt(_second)[_value], _at, "session", 0, false, false, null);
            Sent++;
            if (++_value == values.Length)
                (_machine, _value) = (_machine + 1, 0);
            return true;
        }

        public override async ValueTask<bool> WaitToReadAsync(CancellationToken cancellationToken = default)
        {
            while (writer.Waiting > MostWaiting)
                await Task.Delay(1, cancellationToken);
            return _second < _until;
        }
    }

    /// <summary>The clock on the wall and the counter beside it, both as the messages tell.</summary>
    private sealed class MessageTime(Instant begin) : TimeProvider
    {
        private Instant _now = begin;

        public Instant GoTo(Instant now) => _now = now;

        public override DateTimeOffset GetUtcNow() => DateTimeOffset.UnixEpoch.AddTicks(_now.UnixNanoseconds / TimeSpan.NanosecondsPerTick);

        public override long GetTimestamp() => _now.UnixNanoseconds / TimeSpan.NanosecondsPerTick;

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;
    }

    private sealed class NoNetwork : IBrokerLink
    {
        public bool IsConnected => true;

        public long Connections => 1;

        public long Dropped => 0;

        public Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop) => Task.CompletedTask;

        public Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop) => Task.CompletedTask;

        public void Announce(string machine)
        {
        }

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }
}
