using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Fakes;

/// <summary>The plain store: everything in lists, the roll-ups worked out when they are asked for. Safe for several threads.</summary>
public sealed class InMemoryTelemetryStore(StoreOptions? options = null) : ITelemetryStore
{
    private const int KeptDeliveries = 4096;

    private readonly StoreOptions _options = options ?? new StoreOptions();
    private readonly Lock _lock = new();
    private readonly Dictionary<(string Machine, string Channel), Series> _series = [];
    private readonly Dictionary<(string Job, Instant At), JobRecord> _jobRecords = [];
    private readonly Dictionary<string, byte[]> _states = [];
    private readonly Dictionary<string, Session> _sessions = [];
    private List<JobEvent> _runs = [];
    private List<ServiceEvent> _service = [];
    private List<AlarmChange> _alarms = [];
    private List<Gap> _gaps = [];

    public ValueTask AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        stop.ThrowIfCancellationRequested();
        if (batch.Samples.Any(entry => !double.IsFinite(entry.Sample.Value)))
            throw new ArgumentException("A sample is not finite.", nameof(batch));
        lock (_lock)
        {
            foreach (var (machine, sample) in batch.Samples)
                FindOrAdd(machine, sample.Channel).Add(sample);
            foreach (var record in batch.JobRecords)
                _jobRecords[(record.Job, record.RecordedAt)] = record;
            _runs.AddRange(batch.JobRuns);
            _service.AddRange(batch.ServiceEvents);
            _alarms.AddRange(batch.AlarmChanges);
            _gaps.AddRange(batch.Gaps);
            foreach (var (machine, state) in batch.WatchStates)
                _states[machine] = [.. state];
            foreach (var delivery in batch.Deliveries)
            {
                if (!_sessions.TryGetValue(delivery.Session, out var session))
                    _sessions.Add(delivery.Session, session = new Session());
                session.ById[delivery.PacketId] = (delivery.ContentHash, ++session.Last);
            }
        }

        return ValueTask.CompletedTask;
    }

    public IAsyncEnumerable<ReadOnlyMemory<Sample>> ReadSampleBlocksAsync(
        string machine, IReadOnlyCollection<Channel>? channels, Instant from, Instant to, ChannelTable table, CancellationToken stop)
    {
        lock (_lock)
        {
            return _series.Where(entry => entry.Key.Machine == machine)
                .Where(entry => channels is null or { Count: 0 } || channels.Any(channel => channel.Name == entry.Key.Channel))
                .SelectMany(entry => entry.Value.Samples.Select(sample => new Sample(Find(table, entry.Value), sample.Key, sample.Value)))
                .Where(sample => sample.At >= from && sample.At < to)
                .OrderBy(sample => sample.At).ThenBy(sample => sample.Channel.Index)
                .Chunk(100).Select(block => (ReadOnlyMemory<Sample>)block)
                .ToList().ToAsyncEnumerable();
        }
    }

    public IAsyncEnumerable<RollUp> ReadRollUpsAsync(
        string machine, Channel channel, RollUpSpan span, Instant from, Instant to, CancellationToken stop)
    {
        var width = span == RollUpSpan.Minute ? 60_000_000_000L : 3_600_000_000_000L;
        lock (_lock)
        {
            if (!_series.TryGetValue((machine, channel.Name), out var series))
                return AsyncEnumerable.Empty<RollUp>();
            return series.Deleted.Concat(series.Samples.Select(sample => (At: sample.Key, sample.Value)))
                .GroupBy(sample => (long)Math.Floor(sample.At.UnixNanoseconds / (decimal)width))
                .OrderBy(group => group.Key)
                .Select(group => new RollUp(
                    new Instant((long)Math.Max(group.Key * (decimal)width, long.MinValue)), group.LongCount(), group.Min(s => s.Value),
                    group.Average(s => s.Value), group.Max(s => s.Value)))
                .Where(rollUp => rollUp.Start >= from && rollUp.Start < to)
                .ToList().ToAsyncEnumerable();
        }
    }

    public ValueTask<IReadOnlyList<string>> ReadMachinesAsync(CancellationToken stop)
    {
        lock (_lock)
        {
            return Answer(_series.Keys.Select(key => key.Machine).Concat(_runs.Select(run => run.Machine))
                .Concat(_service.Select(service => service.Machine)).Concat(_alarms.Select(change => change.Machine))
                .Distinct().Order(StringComparer.Ordinal));
        }
    }

    public ValueTask<IReadOnlyList<Channel>> ReadChannelsAsync(string machine, ChannelTable table, CancellationToken stop)
    {
        lock (_lock)
        {
            return ValueTask.FromResult<IReadOnlyList<Channel>>(
                [.. _series.Where(entry => entry.Key.Machine == machine).Select(entry => Find(table, entry.Value)).OrderBy(channel => channel.Index)]);
        }
    }

    public ValueTask<SampleExtent?> ReadExtentAsync(string machine, CancellationToken stop)
    {
        lock (_lock)
        {
            var times = _series.Where(entry => entry.Key.Machine == machine).SelectMany(entry => entry.Value.Samples.Keys).ToList();
            return ValueTask.FromResult<SampleExtent?>(times.Count == 0 ? null : new SampleExtent(times.Min(), times.Max(), times.Count));
        }
    }

    public ValueTask<IgnoredSamples> ReadIgnoredAsync(string machine, CancellationToken stop)
    {
        lock (_lock)
        {
            var series = _series.Where(entry => entry.Key.Machine == machine).Select(entry => entry.Value).ToList();
            return ValueTask.FromResult(new IgnoredSamples(series.Sum(s => s.Duplicates), series.Sum(s => s.Conflicts)));
        }
    }

    public ValueTask<IReadOnlyList<JobRecord>> ReadJobRecordsAsync(CancellationToken stop)
    {
        lock (_lock)
            return Answer(_jobRecords.Values.OrderBy(record => record.Job, StringComparer.Ordinal).ThenBy(record => record.RecordedAt));
    }

    public ValueTask<IReadOnlyList<JobEvent>> ReadJobRunsAsync(string machine, Instant from, Instant to, CancellationToken stop)
    {
        lock (_lock)
            return Answer(_runs.Where(run => run.Machine == machine && run.At >= from && run.At < to).OrderBy(run => run.At));
    }

    public ValueTask<IReadOnlyList<ServiceEvent>> ReadServiceEventsAsync(string machine, Instant from, Instant to, CancellationToken stop)
    {
        lock (_lock)
            return Answer(_service.Where(service => service.Machine == machine && service.At >= from && service.At < to).OrderBy(service => service.At));
    }

    public ValueTask<IReadOnlyList<AlarmChange>> ReadAlarmChangesAsync(string? machine, Instant from, Instant to, CancellationToken stop)
    {
        lock (_lock)
        {
            return Answer(_alarms.Where(change => (machine is null || change.Machine == machine) && change.Time >= from && change.Time < to)
                .OrderBy(change => change.Time));
        }
    }

    public ValueTask<IReadOnlyList<Gap>> ReadGapsAsync(string machine, Instant from, Instant to, CancellationToken stop)
    {
        lock (_lock)
        {
            return Answer(_gaps.Where(gap => gap.Machine == machine && gap.From < to && (gap.From >= from || gap.To > from))
                .OrderBy(gap => gap.From));
        }
    }

    public ValueTask<byte[]?> ReadWatchStateAsync(string machine, CancellationToken stop)
    {
        lock (_lock)
            return ValueTask.FromResult(_states.TryGetValue(machine, out var state) ? state : null);
    }

    public ValueTask<bool> WasDeliveredAsync(PacketDelivery delivery, CancellationToken stop)
    {
        lock (_lock)
        {
            return ValueTask.FromResult(
                _sessions.TryGetValue(delivery.Session, out var session)
                && session.ById.TryGetValue(delivery.PacketId, out var kept)
                && kept.Hash == delivery.ContentHash && kept.Number > session.Last - KeptDeliveries);
        }
    }

    public ValueTask<Maintenance> MaintainAsync(Instant now, CancellationToken stop)
    {
        lock (_lock)
        {
            var cutoff = now - TimeSpan.FromDays(_options.KeepSamplesDays);
            cutoff = new Instant((long)Math.Max(Math.Floor(cutoff.UnixNanoseconds / 3600e9m) * 3_600_000_000_000, long.MinValue));
            long samples = 0;
            foreach (var series in _series.Values)
            {
                foreach (var old in series.Samples.Where(sample => sample.Key < cutoff).ToList())
                {
                    series.Deleted.Add((old.Key, old.Value));
                    series.Samples.Remove(old.Key);
                    samples++;
                }
            }

            var before = _alarms.Count + _runs.Count + _service.Count + _gaps.Count;
            _alarms = KeepNewest(_alarms, change => change.Time, change => (change.Machine, change.Condition), now, _options.KeepAlarmsDays);
            _service = KeepNewest(_service, service => service.At, service => (service.Machine, service.Part, service.Action), now, _options.KeepServiceDays);
            _runs.RemoveAll(run => run.At < now - TimeSpan.FromDays(_options.KeepJobRunsDays));
            _gaps.RemoveAll(gap => gap.To < now - TimeSpan.FromDays(_options.KeepGapsDays));
            return ValueTask.FromResult(new Maintenance(0, samples, before - _alarms.Count - _runs.Count - _service.Count - _gaps.Count));
        }
    }

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;

    private static List<T> KeepNewest<T, TKey>(List<T> events, Func<T, Instant> at, Func<T, TKey> key, Instant now, int days)
    {
        // Of one time, the last one appended is the newest.
        var newest = events.GroupBy(key).Select(group => group.OrderBy(at).Last()).ToHashSet(ReferenceEqualityComparer.Instance as IEqualityComparer<T>);
        return [.. events.Where(entry => at(entry) >= now - TimeSpan.FromDays(days) || newest.Contains(entry))];
    }

    private static Channel Find(ChannelTable table, Series series)
    {
        var name = series.Channel.Name;
        if (series.Channel.Unit.Length > 0 && table.All.All(known => known.Name != name))
            return table.Declare(name, series.Channel.Unit);
        return table.TryGet(name, out var channel) ? channel : throw new StoreException("The table is full.");
    }

    private Series FindOrAdd(string machine, Channel channel)
    {
        if (!_series.TryGetValue((machine, channel.Name), out var series))
            _series.Add((machine, channel.Name), series = new Series(channel));
        return series;
    }

    private static ValueTask<IReadOnlyList<T>> Answer<T>(IEnumerable<T> rows) => ValueTask.FromResult<IReadOnlyList<T>>([.. rows]);

    private sealed class Series(Channel channel)
    {
        public readonly Channel Channel = channel;
        public readonly SortedDictionary<Instant, double> Samples = [];
        public readonly List<(Instant At, double Value)> Deleted = [];
        public long Duplicates;
        public long Conflicts;

        public void Add(Sample sample)
        {
            if (Samples.TryAdd(sample.At, sample.Value))
                return;
            if (Samples[sample.At] == sample.Value)
                Duplicates++;
            else
                Conflicts++;
        }
    }

    private sealed class Session
    {
        public readonly Dictionary<ushort, (ulong Hash, long Number)> ById = [];
        public long Last;
    }
}
