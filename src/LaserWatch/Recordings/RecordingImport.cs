using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Puts what a recording holds into a store while it is replayed.</summary>
/// <remarks>
/// What the recording says happened is kept as it says: its alarms, with who acknowledged them, and its runs. Only where it holds none of them
/// is kept what the rules say now; so a recording that was written from one store makes another store tell the same.
/// A machine's recording can only come after all that the store has of it: events have no key by which a second copy would be known.
/// </remarks>
public sealed class RecordingImport(ITelemetryStore store)
{
    private const int BatchItems = 20_000;

    /// <summary>The store is looked after as often as this, in the recording's time, so that it never holds more than some hours unpacked.</summary>
    private static readonly TimeSpan UpkeepEvery = TimeSpan.FromHours(1);

    /// <summary>By then every hour of the recording is over, however late its last samples may come.</summary>
    private static readonly TimeSpan AllIsOver = TimeSpan.FromDays(1);

    private readonly StoreBatch _batch = new();
    private readonly Dictionary<string, Machine> _machines = new(StringComparer.Ordinal);
    private readonly List<AlarmChange> _told = [];
    private readonly List<JobEvent> _inferred = [];
    private Machine? _last;
    private Instant? _newest;
    private Instant? _nextUpkeep;

    public long Samples { get; private set; }

    public long Events { get; private set; }

    /// <summary>The newest time taken; null before the first.</summary>
    public Instant? Newest => _newest;

    public bool IsFull => _batch.Count >= BatchItems;

    /// <summary>Takes an event of the recording, before or after it is played.</summary>
    /// <exception cref="StoreException">The store has the machine's time already.</exception>
    public async ValueTask TakeAsync(RecordingEvent e, CancellationToken stop)
    {
        if (e.Kind == RecordingEventKind.JobRecord)
        {
            _batch.JobRecords.Add(e.JobRecord!);
            Events++;
            return;
        }

        var machine = _last is { } last && ReferenceEquals(last.Name, e.Machine) ? last : await FindAsync(e, stop).ConfigureAwait(false);
        _last = machine;
        if (_newest is null || e.At > _newest)
            _newest = e.At;
        Take(e, machine);
        if (IsFull)
            await CommitAsync(stop).ConfigureAwait(false);
    }

    /// <summary>Takes what the rules say now.</summary>
    public void Told(AlarmChange change) => _told.Add(change);

    /// <summary>Takes runs that the watch has worked out.</summary>
    public void Inferred(IReadOnlyList<JobEvent> runs) => _inferred.AddRange(runs);

    /// <summary>Keeps all that is left, and packs the store.</summary>
    public async ValueTask CompleteAsync(CancellationToken stop)
    {
        _batch.AlarmChanges.AddRange(_told.Where(change => !(_machines.TryGetValue(change.Machine, out var machine) && machine.HasAlarms)));
        _batch.JobRuns.AddRange(_inferred.Where(run => !(_machines.TryGetValue(run.Machine, out var machine) && machine.HasInferredRuns)));
        await CommitAsync(stop).ConfigureAwait(false);
        if (_newest is { } newest)
            await store.MaintainAsync(newest + AllIsOver, stop).ConfigureAwait(false);
    }

    private void Take(RecordingEvent e, Machine machine)
    {
        switch (e.Kind)
        {
            case RecordingEventKind.Telemetry:
                foreach (var (channel, value) in e.Values)
                    _batch.Samples.Add((machine.Name, new Sample(channel, e.At, value)));
                Samples += e.Values.Length;
                return;
            case RecordingEventKind.JobRun:
                machine.HasInferredRuns |= e.JobRun!.Inferred;
                _batch.JobRuns.Add(e.JobRun);
                break;
            case RecordingEventKind.Service:
                _batch.ServiceEvents.Add(e.Service!);
                break;
            case RecordingEventKind.Alarm:
                machine.HasAlarms = true;
                _batch.AlarmChanges.Add(e.Alarm!);
                break;
            default:
                throw new InvalidOperationException($"An event of kind {e.Kind} has no place in a store.");
        }

        Events++;
    }

    private async ValueTask<Machine> FindAsync(RecordingEvent e, CancellationToken stop)
    {
        if (_machines.TryGetValue(e.Machine, out var known))
            return known;
        if (await store.ReadExtentAsync(e.Machine, stop).ConfigureAwait(false) is { } extent && extent.Last >= e.At)
        {
            throw new StoreException(
                $"the store has {e.Machine} up to {Rfc3339.Format(extent.Last)} already, and the recording begins at {Rfc3339.Format(e.At)}; give a store of its own, or a recording that begins later.");
        }

        var machine = new Machine(e.Machine);
        _machines.Add(e.Machine, machine);
        return machine;
    }

    private async ValueTask CommitAsync(CancellationToken stop)
    {
        if (!_batch.IsEmpty)
            await store.AppendAsync(_batch, stop).ConfigureAwait(false);
        _batch.Clear();
        if (_newest is not { } newest)
            return;
        _nextUpkeep ??= newest + UpkeepEvery;
        if (newest < _nextUpkeep)
            return;
        await store.MaintainAsync(newest, stop).ConfigureAwait(false);
        _nextUpkeep = newest + UpkeepEvery;
    }

    private sealed class Machine(string name)
    {
        public readonly string Name = name;
        public bool HasAlarms;
        public bool HasInferredRuns;
    }
}
