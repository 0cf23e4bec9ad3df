using System.Buffers;
using System.Collections.Concurrent;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>Keeps each machine's retained status topic up to date.</summary>
/// <remarks>
/// At most every 10 s where something changed, at least every 60 s, and at once after a connection was made anew, when a
/// will may have said <c>offline</c>. Of more than 200 machines each comes less often: some kilobytes each, they would be more than
/// all that the sensors send. Must end before the link does, or it would contradict the link's good-bye.
/// A status is a heap of small objects: it is wanted only shortly before it goes out, and kept as the text that it becomes.
/// </remarks>
public sealed class StatusPublisher(IBrokerLink link, Topics topics, TimeProvider time, ILogger<StatusPublisher> logger)
{
    public static readonly TimeSpan Soonest = TimeSpan.FromSeconds(10);
    public static readonly TimeSpan Latest = TimeSpan.FromSeconds(60);

    /// <summary>So many are meant to go out in a second, of all machines.</summary>
    public const int MeantASecond = 20;

    /// <summary>At most so many go out in one look, those at once not counted; more than are meant, so that those that came due together part.</summary>
    private const int MostALook = MeantASecond + 5;

    private static readonly TimeSpan Look = TimeSpan.FromSeconds(1);

    /// <summary>So long before it may go out a status is asked for: a tick may be a second off, and so may the look after it.</summary>
    private static readonly TimeSpan Ahead = 2 * Look;

    /// <summary>Where nothing changes, or nothing can go out, it is asked for again after this.</summary>
    private static readonly TimeSpan AskAgain = TimeSpan.FromSeconds(5);

    private readonly ConcurrentDictionary<string, Shown> _machines = new(StringComparer.Ordinal);
    private volatile byte[]? _flood;

    // These belong to RunAsync.
    private readonly ArrayBufferWriter<byte> _body = new(4096);
    private byte[]? _floodPublished;
    private long _floodConnections;

    /// <summary>Whether the machine's newest status is wanted. Any thread may ask.</summary>
    public bool IsWanted(string machine) => !_machines.TryGetValue(machine, out var shown) || shown.IsWanted;

    /// <summary>The newest status of a machine; goes out when it is due. Any thread may call this, as often as it likes; <see cref="IsWanted"/> says when it is of use.</summary>
    /// <param name="rejected">Messages that were not taken, by reason.</param>
    public void Show(MachineStatus status, IReadOnlyDictionary<string, long> rejected)
    {
        if (!_machines.TryGetValue(status.Machine, out var shown))
        {
            shown = _machines.GetOrAdd(status.Machine, new Shown());
            link.Announce(status.Machine);
        }

        shown.Show(new(status, rejected), time.GetTimestamp());
    }

    /// <summary>Whether alarms come in a flood; goes out at the next look where it changed. Any thread may call this.</summary>
    public void ShowFlood(byte[] body) => _flood = body;

    public async Task RunAsync(CancellationToken stop)
    {
        using var timer = new PeriodicTimer(Look, time);
        do
        {
            await LookAsync(stop);
        }
        while (await timer.WaitForNextTickAsync(stop));
    }

    /// <summary>Publishes what is due, and says what is wanted; what <see cref="RunAsync"/> does each second.</summary>
    internal async Task LookAsync(CancellationToken stop)
    {
        if (!link.IsConnected)
        {
            foreach (var (_, shown) in _machines)
                shown.IsWanted |= time.GetElapsedTime(shown.ShownAt) >= AskAgain;
            return;
        }

        var connections = link.Connections;
        if (!await PublishFloodAsync(connections, stop))
            return;
        var (soonest, left) = (SoonestOf(_machines.Count), MostALook);
        var latest = soonest > Latest ? soonest : Latest;
        foreach (var (machine, shown) in _machines)
        {
            var age = shown.Published is null ? latest : time.GetElapsedTime(shown.PublishedAt);
            var anew = shown.Connections != connections;
            if (shown.Newest is null && age >= soonest - Ahead && time.GetElapsedTime(shown.ShownAt) >= AskAgain)
                shown.IsWanted = true;
            if (!anew && (age < soonest || left == 0))
                continue;
            var newest = shown.Newest;
            _body.ResetWrittenCount();
            if (newest is not null)
                StatusJson.Write(_body, newest.Status, newest.Rejected, link.Dropped);
            else
                _body.Write(shown.PublishedBody);
            if (_body.WrittenCount == 0)
                continue;
            var length = _body.WrittenCount;
            if (!anew && age < latest && _body.WrittenSpan.SequenceEqual(shown.PublishedBody))
            {
                shown.Drop(newest);
                continue;
            }

            StatusJson.WriteEnd(_body, Instant.From(time.GetUtcNow()));
            var payload = _body.WrittenSpan.ToArray(); // the link may keep it
            try
            {
                await link.PublishAsync(topics.Status(machine), payload, retain: true, stop);
            }
            catch (IOException e)
            {
                // Tried again at the next look; said once.
                if (!shown.Failing)
                    logger.StatusNotPublished(machine, e.Message);
                shown.Failing = true;
                return;
            }

            if (!anew)
                left--;
            shown.Failing = false;
            shown.Drop(newest);
            (shown.Published, shown.BodyLength) = (payload, length);
            shown.PublishedAt = time.GetTimestamp();
            shown.Connections = connections;
        }
    }

    /// <summary>How soon after the last a machine's next may go out, where there are so many machines.</summary>
    internal static TimeSpan SoonestOf(int machines) => machines > Soonest.TotalSeconds * MeantASecond ? TimeSpan.FromSeconds((double)machines / MeantASecond) : Soonest;

    /// <returns>False where the broker does not take it; the next look tries again.</returns>
    private async Task<bool> PublishFloodAsync(long connections, CancellationToken stop)
    {
        if (_flood is not { } flood || (ReferenceEquals(flood, _floodPublished) && connections == _floodConnections))
            return true;
        try
        {
            await link.PublishAsync(topics.AgentFlood, flood, retain: true, stop);
        }
        catch (IOException e)
        {
            logger.FloodNotPublished(e.Message);
            return false;
        }

        (_floodPublished, _floodConnections) = (flood, connections);
        return true;
    }

    private sealed class Shown
    {
        private Content? _newest;
        private long _shownAt;
        private volatile bool _isWanted;

        public bool IsWanted
        {
            get => _isWanted;
            set => _isWanted = value;
        }

        /// <summary>What was shown, and neither went out nor was what had gone out already.</summary>
        public Content? Newest => Volatile.Read(ref _newest);

        public long ShownAt => Volatile.Read(ref _shownAt);

        public void Show(Content newest, long now)
        {
            _isWanted = false;
            Volatile.Write(ref _shownAt, now);
            Volatile.Write(ref _newest, newest);
        }

        /// <summary>Lets go of it, unless another was shown since.</summary>
        public void Drop(Content? newest) => Interlocked.CompareExchange(ref _newest, null, newest);

        // The rest belongs to RunAsync.

        public byte[]? Published { get; set; }

        /// <summary>How much of it stands before the time.</summary>
        public int BodyLength { get; set; }

        public ReadOnlySpan<byte> PublishedBody => Published.AsSpan(0, BodyLength);

        public long PublishedAt { get; set; }

        public long Connections { get; set; }

        public bool Failing { get; set; }
    }

    private sealed record Content(MachineStatus Status, IReadOnlyDictionary<string, long> Rejected);
}
