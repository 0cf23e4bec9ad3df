using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Proof;

/// <summary>What a sealing did.</summary>
/// <param name="Days">Days sealed for the first time.</param>
/// <param name="Revised">Days sealed again, since more of them had come.</param>
/// <param name="Altered">Days that lack something that was sealed, in words; they are left as they were sealed.</param>
public sealed record SealingOutcome(int Days, int Revised, IReadOnlyList<string> Altered);

/// <summary>Seals the days of all machines that are over, and looks whether sealed days are still what they were.</summary>
/// <remarks>
/// A day is sealed when it has been over for an hour. Looking back costs the hour roll-ups and the events, not the samples: a value that was
/// altered in its place is not seen here, but by <c>verify</c>. Calls must not overlap; another process is kept out by a lock.
/// </remarks>
public sealed class EvidenceKeeper(StoreOptions storeOptions, EvidenceOptions options, ILogger logger)
{
    /// <summary>For samples that come late.</summary>
    public static readonly TimeSpan Rest = TimeSpan.FromHours(1);

    /// <summary>How far back each call looks; the first call of a day looks at everything.</summary>
    private static readonly TimeSpan UsualLookBack = TimeSpan.FromDays(40);

    /// <summary>So many days are sealed at a time, for a stop in the middle of years to lose little.</summary>
    private const int BatchDays = 32;

    private readonly EvidenceFolder _folder = EvidenceFolder.Of(storeOptions);
    private readonly Dictionary<(string Machine, DateOnly Day), long> _looked = [];
    private readonly HashSet<(string Machine, DateOnly Day)> _told = [];
    private readonly Timestamper? _timestamper = options.TimestampUrl is null ? null : new Timestamper(options, logger);
    private DateOnly? _wholeLook;
    private bool _keyWarned;

    /// <summary>Seals what is to be sealed of all machines.</summary>
    /// <exception cref="EvidenceException">Log or key cannot be read or written, or another process seals now.</exception>
    /// <exception cref="StoreException">The store cannot be read.</exception>
    public async Task<SealingOutcome> SealAsync(ITelemetryStore store, Instant now, CancellationToken stop)
    {
        if (!options.Enabled)
            return new SealingOutcome(0, 0, []);
        using var held = _folder.Lock();
        using var key = SigningKey.Open(_folder.KeyFile);
        TellOfKey(key);
        var from = _wholeLook == UtcDay.Of(now) ? UtcDay.Start(UtcDay.Of(now - UsualLookBack)) : Instant.MinValue;
        var (days, revised, altered) = (0, 0, new List<string>());
        EvidenceException? fault = null;
        var logs = new List<EvidenceLog>();
        // One room for all: a day of eight channels is a megabyte, and a shop has hundreds of machines.
        var leaves = new SampleLeaves("");
        foreach (var machine in await store.ReadMachinesAsync(stop).ConfigureAwait(false))
        {
            try
            {
                var log = EvidenceLog.Read(_folder, machine);
                var session = await SealAsync(store, log, key, now, from, leaves, altered, stop).ConfigureAwait(false);
                logs.Add(log);
                days += session.Days;
                revised += session.Revised;
            }
            catch (EvidenceException e)
            {
                fault ??= e; // one machine's damaged log must not leave the others unsealed
            }
        }

        // When all is sealed: an authority that does not answer must delay nothing.
        if (_timestamper is not null)
            await _timestamper.StampAsync(logs, stop).ConfigureAwait(false);
        if (fault is not null)
            throw fault;
        _wholeLook = UtcDay.Of(now);
        if (days + revised > 0)
            logger.DaysSealed(days, revised);
        return new SealingOutcome(days, revised, altered);
    }

    private async Task<Session> SealAsync(
        ITelemetryStore store, EvidenceLog log, SigningKey key, Instant now, Instant from, SampleLeaves leaves, List<string> altered, CancellationToken stop)
    {
        if (log.TornBytes > 0)
            logger.TornLogLine(_folder.LogFile(log.Content.Machine), log.TornBytes);
        leaves.Clear(log.Content.Machine);
        var session = new Session(store, log, key, now, from, leaves, stop);
        await SealAsync(session, altered).ConfigureAwait(false);
        log.CutTorn();
        return session;
    }

    private async Task SealAsync(Session session, List<string> altered)
    {
        var table = new ChannelTable();
        var counts = await CountsAsync(session, table).ConfigureAwait(false);
        var events = await DayEvents.ReadAsync(session.Store, session.Machine, session.From, session.Until, session.Stop).ConfigureAwait(false);
        foreach (var day in counts.Keys.Union(events.Keys).Union(session.Sealed.Keys.Where(day => UtcDay.Start(day) >= session.From)).Order().ToList())
        {
            session.Stop.ThrowIfCancellationRequested();
            var now = counts.GetValueOrDefault(day) ?? [];
            var dayEvents = events.GetValueOrDefault(day) ?? DayEvents.None;
            if (!session.Sealed.TryGetValue(day, out var then))
                await SealFirstAsync(session, day, table, dayEvents).ConfigureAwait(false);
            else if (await LookAgainAsync(session, then, now, dayEvents, table).ConfigureAwait(false) is { } words)
                altered.Add(Tell(session.Machine, day, words));
            if (session.Waiting.Count >= BatchDays)
                session.Flush();
        }

        session.Flush();
    }

    private static async Task SealFirstAsync(Session session, DateOnly day, ChannelTable table, DayEvents events)
    {
        var leaves = session.Leaves;
        await StoredDay.ReadSamplesAsync(session.Store, session.Machine, day, table, leaves, session.Stop).ConfigureAwait(false);
        if (leaves.Leaves.Count + events.Events.Count + events.Records.Count == 0)
            return; // only roll-ups are left of it
        session.Add(day, null, StoredDay.TreeOf(leaves.Leaves), events.EventTree(), events.RecordTree(), null);
    }

    /// <returns>What is not as it was sealed, in words; null where nothing is.</returns>
    private async Task<string?> LookAgainAsync(
        Session session, DayEntry then, Dictionary<string, long> now, DayEvents dayEvents, ChannelTable table)
    {
        var samples = then.Samples;
        var change = DayComparison.OfSamples(samples, now, out var sampleWords);
        if (change == PartChange.Grown)
            change = await ReadGrownAsync().ConfigureAwait(false);

        var aged = UtcDay.Start(then.Day) < session.Now - TimeSpan.FromDays(
            1 + Math.Min(storeOptions.KeepAlarmsDays, Math.Min(storeOptions.KeepJobRunsDays, storeOptions.KeepServiceDays)));
        var events = aged ? then.Events : dayEvents.EventTree();
        var eventChange = DayComparison.OfEvents(then.Events, events, out var eventWords);
        var records = dayEvents.RecordTree();
        var recordChange = DayComparison.OfRecords(then.Records, records, out var recordWords);

        (PartChange Change, string Words)[] parts = [(change, sampleWords), (eventChange, eventWords), (recordChange, recordWords)];
        if (parts.Any(part => part.Change == PartChange.Altered))
            return string.Join("; ", parts.Where(part => part.Change == PartChange.Altered).Select(part => part.Words));
        if (parts.Any(part => part.Change == PartChange.Grown))
            session.Add(then.Day, then, samples, events, records, string.Join("; ", parts.Where(part => part.Change == PartChange.Grown).Select(part => part.Words)));
        return null;

        // The roll-ups say that more has come; what can be sealed is what the store still holds sample by sample.
        async Task<PartChange> ReadGrownAsync()
        {
            var total = now.Values.Sum();
            if (_looked.GetValueOrDefault((session.Machine, then.Day)) == total)
                return PartChange.None;
            await StoredDay.ReadSamplesAsync(session.Store, session.Machine, then.Day, table, session.Leaves, session.Stop).ConfigureAwait(false);
            _looked[(session.Machine, then.Day)] = total;
            var read = StoredDay.TreeOf(session.Leaves.Leaves);
            if (DayComparison.OfSamples(then.Samples, read.Counts, out var words) != PartChange.Grown)
                return PartChange.None; // deleted by age, and late ones counted in the roll-ups alone
            samples = read;
            sampleWords = words;
            return PartChange.Grown;
        }
    }

    /// <summary>The samples that each day ever had, by channel: roll-ups outlive the samples.</summary>
    private static async Task<Dictionary<DateOnly, Dictionary<string, long>>> CountsAsync(Session session, ChannelTable table)
    {
        var counts = new Dictionary<DateOnly, Dictionary<string, long>>();
        var channels = await session.Store.ReadChannelsAsync(session.Machine, table, session.Stop).ConfigureAwait(false);
        var hours = session.Store.ReadRollUpsAsync(session.Machine, channels, RollUpSpan.Hour, session.From, session.Until, session.Stop);
        await foreach (var (channel, hour) in hours.ConfigureAwait(false))
        {
            var day = UtcDay.Of(hour.Start);
            if (!counts.TryGetValue(day, out var ofDay))
                counts.Add(day, ofDay = new Dictionary<string, long>(StringComparer.Ordinal));
            ofDay[channel.Name] = ofDay.GetValueOrDefault(channel.Name) + hour.Count;
        }

        return counts;
    }

    private void TellOfKey(SigningKey key)
    {
        if (key.IsNew)
            logger.SigningKeyMade(_folder.KeyFile, key.Fingerprint);
        if (key.OthersMayRead && !_keyWarned)
        {
            logger.SigningKeyOpen(_folder.KeyFile, OwnFiles.ModeOf(_folder.KeyFile));
            _keyWarned = true;
        }
    }

    private string Tell(string machine, DateOnly day, string words)
    {
        if (_told.Add((machine, day)))
            logger.SealedDayAltered(machine, day, words);
        return $"{machine} {day:yyyy-MM-dd}: {words}";
    }

    /// <summary>The work on one machine's log.</summary>
    private sealed class Session(ITelemetryStore store, EvidenceLog log, SigningKey key, Instant now, Instant from, SampleLeaves leaves, CancellationToken stop)
    {
        public ITelemetryStore Store => store;

        public string Machine => log.Content.Machine;

        public Instant Now => now;

        /// <summary>The first day looked at begins here.</summary>
        public Instant From => from;

        /// <summary>The end of the last day that is over.</summary>
        public Instant Until { get; } = UtcDay.Start(UtcDay.Of(now - Rest));

        public CancellationToken Stop => stop;

        /// <summary>For the leaves of one day of this machine after the other.</summary>
        public SampleLeaves Leaves => leaves;

        public IReadOnlyDictionary<DateOnly, DayEntry> Sealed => log.Content.Newest;

        public List<DayEntry> Waiting { get; } = [];

        public int Days { get; private set; }

        public int Revised { get; private set; }

        public void Add(DateOnly day, DayEntry? before, SealedTree samples, SealedTree events, SealedTree records, string? why)
        {
            Waiting.Add(new DayEntry(
                DayEntry.KindName, log.Content.Entries.Count + Waiting.Count, Machine, day, before is null ? 0 : before.Revision + 1, samples, events,
                records, Rfc3339.Format(now), before?.Number, why));
            if (before is null)
                Days++;
            else
                Revised++;
        }

        /// <remarks>A head is due too where a crash came between entries and head, and where the key is another one.</remarks>
        public void Flush()
        {
            var head = log.Content.Head;
            var signed = head is not null && head.Size == log.Content.Entries.Count && head.Fingerprint() == key.Fingerprint;
            if (Waiting.Count > 0 || (!signed && log.Content.Entries.Count > 0))
                log.Append(Waiting, key, Rfc3339.Format(now));
            Waiting.Clear();
        }
    }
}
