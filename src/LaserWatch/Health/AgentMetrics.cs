using System.Diagnostics.Metrics;
using LaserWatch.Alarms;
using LaserWatch.Delivery;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Health;

/// <summary>Everything the agent can say of itself in numbers.</summary>
/// <remarks>
/// Each is read when somebody asks: nothing is recorded on the way of a sample but the two lags in <see cref="WatchFigures"/>. Names and
/// units are by OpenTelemetry's conventions. No number has a machine or a topic for an attribute, so their count is bounded.
/// </remarks>
internal static class AgentMetrics
{
    private static readonly AlarmState[] StandingStates = [.. Enum.GetValues<AlarmState>().Where(state => state != AlarmState.Normal)];
    private static readonly AlarmPriority[] Priorities = Enum.GetValues<AlarmPriority>();
    private static readonly Rejection[] Reasons = [.. Enum.GetValues<Rejection>().Where(reason => reason != Rejection.None)];

    public static void Register(
        WatchFigures figures, WatchWorker worker, RejectionLedger rejections, IBrokerLink link, SampleWriter writer, AlarmOutbox outbox,
        DeliveryOutbox delivery, SteadyTime clock, AgentCondition condition, Heartbeat heartbeat, StoreOptions store)
    {
        var meter = figures.Meter;

        // In …
        meter.CreateObservableCounter("laserwatch.messages.taken", () => figures.Messages, "{message}", "Messages taken from the inbox, whatever became of them");
        meter.CreateObservableCounter("laserwatch.messages.refused", () => link.Refused, "{message}", "Messages and subscriptions that a client of the embedded broker had no right to");
        meter.CreateObservableCounter("laserwatch.messages.dropped", () => link.Dropped, "{message}", "QoS 0 messages that found the inbox full");
        meter.CreateObservableCounter("laserwatch.messages.rejected", () => Rejected(rejections), "{message}", "Messages, or parts of one, that were not taken, by reason");
        meter.CreateObservableCounter("laserwatch.samples.judged", () => figures.Judgements, "{sample}", "Samples judged");
        meter.CreateObservableUpDownCounter("laserwatch.inbox.depth", () => worker.InboxDepth, "{message}", "Messages that wait to be judged");
        meter.CreateObservableCounter("laserwatch.broker.connections", () => link.Connections, "{connection}", "Connections made to the broker");
        meter.CreateObservableGauge("laserwatch.broker.connected", () => link.IsConnected ? 1 : 0, "1", "1 while messages can come and go");

        // … to the disk …
        meter.CreateObservableCounter("laserwatch.samples.stored", () => figures.Stored, "{sample}", "Samples stored");
        meter.CreateObservableUpDownCounter("laserwatch.store.queue.depth", () => writer.Waiting, "{item}", "Samples and events that wait for the store");
        meter.CreateObservableCounter("laserwatch.store.items.refused", () => writer.RefusedItems, "{item}", "Samples and events that found the store's queue full");
        meter.CreateObservableGauge("laserwatch.store.size", () => SizeOf(store.Path), "By", "The store's files");
        meter.CreateObservableCounter("laserwatch.gaps", () => figures.Gaps, "{gap}", "Gaps stored: time that is known to lack samples, or whose times are doubtful");
        meter.CreateObservableCounter("laserwatch.evidence.days.sealed", () => figures.SealedDays, "{day}", "Days sealed, those sealed again among them");

        // … and out.
        meter.CreateObservableUpDownCounter("laserwatch.alarms.standing", () => Standing(figures), "{alarm}", "Alarms that are not normal, by state and priority");
        meter.CreateObservableCounter("laserwatch.alarms.annunciated", () => Annunciated(figures), "{alarm}", "Alarms raised, by priority");
        meter.CreateObservableUpDownCounter("laserwatch.alarms.waiting", () => outbox.Waiting, "{alarm}", "Alarm transitions that wait to be told on MQTT");
        meter.CreateObservableUpDownCounter("laserwatch.delivery.waiting", () => Outlets(delivery, outlet => outlet.Waiting), "{message}", "Messages that an outlet has not taken yet");
        meter.CreateObservableUpDownCounter("laserwatch.delivery.held", () => Outlets(delivery, outlet => outlet.Held), "{change}", "Alarm changes held for the end of rest hours, to be gathered, or in a flood");
        meter.CreateObservableCounter("laserwatch.delivery.delivered", () => Outlets(delivery, outlet => outlet.Delivered), "{message}", "Messages taken by the outlet, the late ones among them");
        meter.CreateObservableCounter("laserwatch.delivery.late", () => Outlets(delivery, outlet => outlet.Late), "{message}", "Messages taken that were marked as late");
        meter.CreateObservableCounter("laserwatch.delivery.failures", () => Outlets(delivery, outlet => outlet.Failures), "{attempt}", "Attempts that failed");
        meter.CreateObservableCounter("laserwatch.delivery.refused", () => Outlets(delivery, outlet => outlet.Refused), "{message}", "Messages refused for good, or given up by age");

        // The agent itself.
        meter.CreateObservableGauge("laserwatch.judges", () => condition.Judges ? 1 : 0, "1", "1 while the pipeline judges");
        meter.CreateObservableGauge("laserwatch.works", () => condition.Faults.Count == 0 ? 1 : 0, "1", "1 while all of the agent does its work");
        meter.CreateObservableCounter("laserwatch.clock.jumps", () => clock.Jumps, "{jump}", "Jumps of the wall clock");
        meter.CreateObservableGauge("laserwatch.heartbeat.time", () => HeartbeatTime(heartbeat), "s", "When the last heartbeat went out, seconds since 1970");
    }

    private static IEnumerable<Measurement<long>> Rejected(RejectionLedger rejections) =>
        Reasons.Select(reason => new Measurement<long>(rejections.CountOf(reason), new KeyValuePair<string, object?>("reason", RejectionLedger.NameOf(reason))));

    private static IEnumerable<Measurement<long>> Standing(WatchFigures figures) =>
        from state in StandingStates
        from priority in Priorities
        select new Measurement<long>(
            figures.Standing(state, priority), new KeyValuePair<string, object?>("state", state.Name()),
            new KeyValuePair<string, object?>("priority", priority.Name()));

    private static IEnumerable<Measurement<long>> Annunciated(WatchFigures figures) =>
        Priorities.Select(priority => new Measurement<long>(
            figures.Annunciations(priority), new KeyValuePair<string, object?>("priority", priority.Name())));

    private static IEnumerable<Measurement<long>> Outlets(DeliveryOutbox delivery, Func<OutletStatus, long> count) =>
        delivery.Status.Outlets.Select(outlet => new Measurement<long>(count(outlet), new KeyValuePair<string, object?>("outlet", outlet.Name)));

    private static IEnumerable<Measurement<double>> HeartbeatTime(Heartbeat heartbeat) =>
        heartbeat.LastAt is { } at ? [new Measurement<double>(at.UnixNanoseconds * 1e-9)] : [];

    // Those beside it too: SQLite's log, the spool.
    private static long SizeOf(string path)
    {
        var size = 0L;
        foreach (var suffix in (ReadOnlySpan<string>)["", "-wal", "-shm"])
        {
            var file = new FileInfo(path + suffix);
            if (file.Exists)
                size += file.Length;
        }

        return size;
    }
}
