using System.Runtime.InteropServices;
using System.Threading.Channels;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Pipeline;

/// <summary>The story of a message, from the queue to the alarm and the disk.</summary>
/// <remarks>
/// One consumer, so the shop needs no locks. Nothing here waits for a network or a disk; the one look into the store is for a
/// message that the broker says it has sent before. A message is acknowledged once the store has it. One that cannot be read is
/// counted and acknowledged too: sent again, it would not read better, and it would hold its place in the broker's window.
/// </remarks>
public sealed class WatchPipeline(
    MessageDecoder decoder, Shop shop, SampleWriter writer, AlarmOutbox outbox, DeliveryOutbox delivery, IBrokerLink link,
    StatusPublisher status, FloodTeller flood, RejectionLedger rejections, SteadyTime clock, WatchFigures figures, ILogger<WatchPipeline> logger,
    CommandsOptions? commands = null, LaserWatchOptions? options = null)
{
    /// <summary>The state of a machine that was heard is saved so often; a crash costs a look back of this length, and no more.</summary>
    public const int SaveEveryTicks = 60;

    private const long NanosecondsPerMillisecond = 1_000_000;

    /// <summary>The inbox lends us the thread of the one who wrote into it while we slept: to wake another for one message costs more than it takes. A crowd is ours to work off.</summary>
    private const int MostOnALentThread = 64;

    private readonly DecodedMessage _decoded = new();
    private readonly StoreBatch _keep = new();
    private readonly List<byte> _state = [];
    private readonly HeldEntries _held = new();
    private readonly SenderRights _rights = new(commands ?? new());
    private readonly Dictionary<string, Station> _stations = new(StringComparer.Ordinal);
    private readonly LogThrottle<(string Topic, string Fault)> _bugs = new(TimeSpan.FromHours(1), 1000);
    private readonly bool _isTraining = options?.IsTraining ?? false;
    private string? _lastName;
    private Station? _last;
    private ChannelValue[] _group = new ChannelValue[16];
    private IReadOnlyList<JobRecord>? _newRecords;
    private Instant _lastArrival = Instant.MinValue;
    private readonly TimeSpan _mostAhead = decoder.MostAhead;
    private readonly ClockNotes _clockNotes = new(logger);
    private int _ticks;

    /// <summary>Ticks judged so far: what still grows is alive. Any thread may ask.</summary>
    public int TicksTaken => Volatile.Read(ref _ticks);

    /// <summary>Runs until the inbox is complete and empty.</summary>
    public async Task RunAsync(ChannelReader<RawMessage> inbox, CancellationToken stop)
    {
        while (true)
        {
            var waiting = inbox.WaitToReadAsync(stop);
            var isLent = !waiting.IsCompleted;
            if (!await waiting)
                return;
            for (var taken = 0; inbox.TryRead(out var message); taken++)
            {
                if (isLent && taken == MostOnALentThread)
                    await Task.Yield();
                if (Ticker.IsTick(message))
                {
                    FollowClock();
                    Tick(clock.ToWall(message.Arrival));
                    figures.Beat(clock.GetTimestamp());
                    continue;
                }

                // The broker missed our acknowledgement. What was taken needs no more than that, and in its turn: the first copy
                // may still be on its way to the disk.
                var delivery = DeliveryMark.Of(message);
                if (message.SentAgain && delivery is { } again && await WasTakenAsync(again, message.Topic, stop))
                    Keep(null, message.Acknowledge);
                else
                    Take(message with { Arrival = _lastArrival = InMilliseconds(clock.ToWall(message.Arrival)) }, delivery);
                figures.CountMessage();
            }
        }
    }

    /// <summary>Goes on with a watch that a former process left; its sensors get time to come back.</summary>
    /// <param name="seenUntil">Our clock's time when the states were saved.</param>
    public void Resume(MachineWatch watch, Instant now, Instant? seenUntil) =>
        StationOf(watch).Pace.Resume(watch.Newest, now, clockSetBack: seenUntil - now > SteadyTime.LeastJump);

    /// <summary>Job records that another process wrote; taken up at the next tick. Any thread may call this.</summary>
    public void OfferRecords(IReadOnlyList<JobRecord> records) => Interlocked.Exchange(ref _newRecords, records);

    /// <summary>Hands the state of all machines to the writer. Only while <see cref="RunAsync"/> does not run.</summary>
    public void SaveAll(Instant now)
    {
        foreach (var station in _stations.Values)
            Save(station.Watch, now);
        Keep(null, null);
    }

    private void Take(in RawMessage message, PacketDelivery? delivery)
    {
        // A sensor that machines share has a part for each; they are kept, and acknowledged, together.
        var parts = 1;
        for (var part = 0; part < parts; part++)
        {
            parts = Decode(message, part);
            CountWhatWasNotTaken(message);
            if (_decoded.Machine is not { } machine || !HasContent())
                continue;
            if (FindStation(machine) is { } station)
                Judge(station, message);
            else
                rejections.Count(Rejection.UnknownMachine, null, message.Topic, "the shop is full", message.Arrival);
        }

        Keep(delivery, message.Acknowledge);
    }

    /// <returns>How many parts the message has.</returns>
    private int Decode(in RawMessage message, int part)
    {
        try
        {
            return decoder.Decode(message.Topic, message.Payload.Span, message.Arrival, _decoded, part);
        }
        catch (Exception fault) // a bug in reading: one message is lost and said so, the rest goes on
        {
            ReportBug(message.Topic, message.Arrival, fault);
            _decoded.Clear();
            _decoded.Rejection = Rejection.MalformedJson;
            _decoded.RejectionDetail = "the reader failed on it";
            return 0;
        }
    }

    private void CountWhatWasNotTaken(in RawMessage message)
    {
        if (_decoded.Rejection != Rejection.None)
            rejections.Count(_decoded.Rejection, KnownMachine(), message.Topic, _decoded.RejectionDetail, message.Arrival);
        if (_rights.Apply(_decoded, message.Sender) is { } refused)
            rejections.Count(Rejection.NotAuthorized, KnownMachine(), message.Topic, refused, message.Arrival);
        if (_decoded.SkewedTimes > 0)
            rejections.CountSkew(message.Topic, _decoded.SkewedTimes);
        if (message.Retained && DropWhatHasNoTime(message.Arrival))
            rejections.Count(Rejection.RetainedWithoutTime, KnownMachine(), message.Topic, "nobody knows how old it is", message.Arrival);

        string? KnownMachine() => _decoded.Machine is { } name && _stations.ContainsKey(name) ? name : null;
    }

    // A broker hands out a retained message whenever we subscribe. Without a time of its own it may be a year old.
    private bool DropWhatHasNoTime(Instant arrival)
    {
        var dropped = _decoded.Samples.RemoveAll(sample => sample.At == arrival) > 0;
        dropped |= HasEvent();
        _decoded.Job = null;
        _decoded.Service = null;
        _decoded.Command = null;
        return dropped;
    }

    private bool HasContent() => _decoded.Samples.Count > 0 || _decoded.FailedSensor is not null || HasEvent();

    private bool HasEvent() => _decoded.Job is not null || _decoded.Service is not null || _decoded.Command is not null;

    private void Judge(Station station, in RawMessage message)
    {
        if (_decoded.Samples.Count > 0
            && station.Pace.ShiftDue(_decoded.Samples[0].At, message.Arrival, BearsOurTime(message.Arrival), _mostAhead) is { } shift)
            Shift(station, shift);
        var watch = station.Watch;
        station.Stirred = true;
        TellApart(station, CollectionsMarshal.AsSpan(_decoded.Samples), message.Arrival);

        // Kept before it is judged: a fault in judging must not lose a sample.
        foreach (var sample in _decoded.Samples)
            _keep.Samples.Add((watch.Machine, sample));
        if (_decoded.Service is not null)
            _keep.ServiceEvents.Add(_decoded.Service);

        try
        {
            ObserveSamples(station, message.Arrival);
            if (_decoded.FailedSensor is not null)
                Announce(watch.ObserveSensorFailure(_decoded.FailedSensor, message.Arrival));
            if (_decoded.Job is not null)
                ObserveJob(station, _decoded.Job, message);
            if (_decoded.Service is not null)
                Announce(watch.Observe(_decoded.Service));
            if (_decoded.Command is { } command)
            {
                // In the time of the alarm it is about: where a sensor's clock is ahead, an acknowledgement must not stand
                // before what it acknowledges.
                Announce(watch.Observe(command with { At = station.Pace.Translate(command.At) }));
            }

            _keep.JobRuns.AddRange(watch.TakeInferredRuns());
        }
        catch (Exception fault) // a bug in a rule: the message is kept, the loop lives, and somebody hears of it
        {
            ReportBug(message.Topic, message.Arrival, fault);
        }

        // Events change a watch in ways that the stored samples cannot bring back after a crash, and they are few.
        if (HasEvent())
            Save(watch, message.Arrival);
        figures.Judged(_decoded.Samples.Count, _decoded.Samples.Count == 0 ? message.Arrival : _decoded.Samples[^1].At, clock.Now);
    }

    private bool BearsOurTime(Instant arrival)
    {
        foreach (var sample in _decoded.Samples)
        {
            if (sample.At == arrival)
                return true;
        }

        return false;
    }

    private void FollowClock()
    {
        if (clock.Look() is { } jump)
        {
            _clockNotes.Add(jump);
            _lastArrival += jump.By;
            flood.Jump(jump);
            foreach (var station in _stations.Values)
                station.Pace.Jump(jump);
        }

        if (_clockNotes.Take(clock.Now) is not { } note)
            return;
        foreach (var machine in _stations.Keys)
            _keep.Gaps.Add(note with { Machine = machine });
    }

    private void Shift(Station station, ClockShift shift)
    {
        if (shop.Shift(station.Watch, shift) is { } shifted)
            station.Watch = shifted;
        else
            logger.WatchNotShifted(station.Watch.Machine, DurationWords.Of(shift.By));
    }

    private void ObserveSamples(Station station, Instant arrival)
    {
        var samples = CollectionsMarshal.AsSpan(_decoded.Samples);
        PutInTimeOrder(samples);
        for (var i = 0; i < samples.Length;)
        {
            var at = samples[i].At;
            var count = 0;
            for (; i < samples.Length && samples[i].At == at; i++)
            {
                if (count == _group.Length)
                    Array.Resize(ref _group, 2 * count);
                _group[count++] = new(samples[i].Channel, samples[i].Value);
            }

            station.Pace.Heard(at, arrival, at - arrival is { Ticks: >= 0 and < TimeSpan.TicksPerMillisecond });
            Announce(station.Watch.Observe(at, _group.AsSpan(0, count)));
        }
    }

    private void ObserveJob(Station station, JobEvent job, in RawMessage message)
    {
        var watch = station.Watch;
        if (job.Kind == JobEventKind.End && watch.Status.RunSince is null)
        {
            rejections.Count(Rejection.JobEndWithoutStart, watch.Machine, message.Topic, "no run was under way", message.Arrival);
            return;
        }

        _keep.JobRuns.Add(job);
        Announce(watch.Observe(job.At == message.Arrival ? job with { At = station.Pace.WithoutJumps(job.At) } : job));
    }

    // Out at once; to the disk together with the sample that made it.
    private void Announce(IReadOnlyList<AlarmChange> changes)
    {
        for (var i = 0; i < changes.Count; i++)
        {
            var change = _isTraining ? changes[i].AsTraining() : changes[i];
            outbox.Post(change);
            delivery.Post(change);
            figures.CountAnnounced(change);
            AlarmLine.Write(logger, change);
            _keep.AlarmChanges.Add(change);
            flood.Observe(change);
        }
    }

    private void Tick(Instant now)
    {
        TakeUpNewRecords();
        flood.Tick(now);
        var reachable = link.IsConnected;
        _ticks++;
        foreach (var station in _stations.Values)
        {
            if (!reachable)
                station.Pace.ReachableSince(now);
            var kept = _keep.Count;
            if (station.Pace.TimeAt(now) is { } time)
                Tick(station.Watch, time, now);
            station.Stirred |= _keep.Count > kept;

            // Not all in one second: a large shop would stand still for it. And not where only ticks have passed, whose fruit
            // is taken from the alarm log: a shop at night would write its disk away.
            if (station.Stirred && (_ticks + station.Place) % SaveEveryTicks == 0)
            {
                Save(station.Watch, now);
                station.Stirred = false;
            }

            station.Count(figures);
            if (status.IsWanted(station.Watch.Machine))
                status.Show(station.Watch.Status, rejections.Of(station.Watch.Machine));
        }

        Keep(null, null);
        _held.TryAgain(writer);
    }

    private void Tick(MachineWatch watch, Instant time, Instant now)
    {
        try
        {
            Announce(watch.Tick(time));
            _keep.JobRuns.AddRange(watch.TakeInferredRuns());
        }
        catch (Exception fault) // as in Judge
        {
            ReportBug($"the tick of {watch.Machine}", now, fault);
        }
    }

    private void Save(MachineWatch watch, Instant now)
    {
        try
        {
            watch.Save(_state);
            _keep.WatchStates.Add((watch.Machine, SavedWatch.Pack(now > _lastArrival ? now : _lastArrival, CollectionsMarshal.AsSpan(_state))));
        }
        catch (Exception fault) // a state that cannot be saved costs a longer look back at the next start
        {
            ReportBug($"the state of {watch.Machine}", now, fault);
        }
    }

    private void Keep(PacketDelivery? delivery, Action? acknowledge)
    {
        if (delivery is { } mark)
            _keep.Deliveries.Add(mark);
        if (!_keep.IsEmpty || acknowledge is not null)
            _held.Pass(writer, _keep, acknowledge);
        _keep.Clear();
    }

    private async ValueTask<bool> WasTakenAsync(PacketDelivery delivery, string topic, CancellationToken stop)
    {
        try
        {
            return await writer.WasDeliveredAsync(delivery, stop);
        }
        catch (Exception fault) when (fault is not OperationCanceledException) // a sick disk: rather twice than never
        {
            logger.DeliveryUnknown(fault, topic);
            return false;
        }
    }

    private void TakeUpNewRecords()
    {
        if (Interlocked.Exchange(ref _newRecords, null) is not { } records)
            return;
        foreach (var record in records)
            shop.Jobs.Add(record);
        foreach (var station in _stations.Values)
        {
            Announce(station.Watch.RecordsChanged());
            station.Stirred = true;
        }
    }

    // More digits would be the network's noise, which takes room and tells nothing.
    private static Instant InMilliseconds(Instant arrival)
    {
        var rest = arrival.UnixNanoseconds % NanosecondsPerMillisecond;
        return new(arrival.UnixNanoseconds - rest - (rest < 0 ? NanosecondsPerMillisecond : 0));
    }

    // Bare numbers bear the time of their arrival; a channel's second one within the millisecond is still a sample of its own.
    private static void TellApart(Station station, Span<Sample> samples, Instant arrival)
    {
        foreach (ref var sample in samples)
        {
            if (sample.At == arrival)
                sample = sample with { At = station.NextStamp(sample.Channel, arrival) };
        }
    }

    private void ReportBug(string where, Instant at, Exception fault)
    {
        if (_bugs.MaySpeak((where, fault.GetType().Name), at, out _))
            logger.JudgingFailed(fault, where);
    }

    // A machine's messages mostly come one after the other, and the decoder calls it by the same name: not looked for by its letters each time.
    private Station? FindStation(string machine)
    {
        if (ReferenceEquals(machine, _lastName))
            return _last;
        if (shop.Find(machine) is not { } watch)
            return null;
        _lastName = machine;
        return _last = StationOf(watch);
    }

    private Station StationOf(MachineWatch watch)
    {
        if (!_stations.TryGetValue(watch.Machine, out var station))
            _stations.Add(watch.Machine, station = new(watch, _stations.Count));
        return station;
    }

    private static void PutInTimeOrder(Span<Sample> samples)
    {
        for (var i = 1; i < samples.Length; i++)
        {
            if (samples[i].At < samples[i - 1].At)
            {
                samples.Sort(static (a, b) => a.At.CompareTo(b.At));
                return;
            }
        }
    }

    private sealed class Station(MachineWatch watch, int place)
    {
        private const long Step = 1000;

        private readonly List<StandingAlarm> _counted = [];
        private (MachineWatch Watch, int Version)? _countedOf;
        private long[] _stamps = [];

        public MachineWatch Watch { get; set; } = watch;

        public int Place => place;

        public MachinePace Pace { get; } = new();

        /// <summary>More than ticks came since its state was saved.</summary>
        public bool Stirred { get; set; }

        /// <summary>Counts its standing alarms anew, where they may be others than those counted last.</summary>
        public void Count(WatchFigures figures)
        {
            var now = (Watch, Watch.StandingVersion);
            if (_countedOf == now)
                return;
            figures.ShowStanding(_counted, Watch.Standing);
            _countedOf = now;
        }

        /// <summary>The arrival, or where the channel has that stamp already, a microsecond after its last one.</summary>
        public Instant NextStamp(Telemetry.Channel channel, Instant arrival)
        {
            if (channel.Index >= _stamps.Length)
            {
                var known = _stamps.Length;
                Array.Resize(ref _stamps, Math.Max(16, 2 * channel.Index));
                _stamps.AsSpan(known).Fill(long.MinValue);
            }

            ref var last = ref _stamps[channel.Index];
            var isTaken = last >= arrival.UnixNanoseconds && last - arrival.UnixNanoseconds < NanosecondsPerMillisecond;
            last = isTaken ? last + Step : arrival.UnixNanoseconds;
            return new(last);
        }
    }
}
