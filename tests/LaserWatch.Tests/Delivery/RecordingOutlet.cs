using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>Keeps what it was given, and answers what it is told to.</summary>
internal sealed class RecordingOutlet(string name) : IOutlet
{
    private readonly List<AlarmMessage> _taken = [];
    private volatile bool _down;
    private int _attempts;

    public string Name => name;

    public bool Down
    {
        get => _down;
        set => _down = value;
    }

    public int Attempts => Volatile.Read(ref _attempts);

    public IReadOnlyList<AlarmMessage> Taken
    {
        get
        {
            lock (_taken)
                return [.. _taken];
        }
    }

    /// <summary>Each message as <c>cause: condition transition, …</c>.</summary>
    public IReadOnlyList<string> Said => [.. Taken.Select(Say)];

    public Task<OutletAnswer> SendAsync(AlarmMessage message, CancellationToken stop)
    {
        var down = _down;
        lock (_taken)
        {
            if (!down)
                _taken.Add(message);
        }

        Interlocked.Increment(ref _attempts);
        return Task.FromResult(down ? OutletAnswer.Later("down") : OutletAnswer.Delivered);
    }

    private static string Say(AlarmMessage message) =>
        $"{(message.IsLate ? "late " : "")}{message.Cause.ToString().ToLowerInvariant()}: {string.Join(", ", message.Entries.Select(e => $"{e.Change.Machine} {e.Change.Condition} {e.Transition.ToString().ToLowerInvariant()}"))}";
}

/// <summary>Options of outlets that a test brings itself: an address that nobody posts to.</summary>
internal static class Told
{
    public static WebhookOptions Everything { get; } = new() { Url = "http://127.0.0.1:9/", Transitions = [.. Enum.GetValues<AlarmTransition>()] };

    public static WebhookOptions RaisedAndEnded { get; } = new() { Url = "http://127.0.0.1:9/" };

    public static WebhookOptions OnlyWhatIsUnanswered { get; } = new() { Url = "http://127.0.0.1:9/", Transitions = [] };

    public static DeliveryOptions By(params (string Name, WebhookOptions Options)[] outlets) =>
        new() { Webhooks = outlets.ToDictionary(o => o.Name, o => o.Options) };
}
