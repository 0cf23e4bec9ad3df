namespace LaserWatch.Storage;

/// <summary>Whether those who send wait for their acknowledgements, so that a commit put off holds them up.</summary>
/// <remarks>
/// A broker leaves some messages unacknowledged and goes on sending, and then a commit of several spares the disk and the processor. But one that
/// leaves a single one, or a sensor at our own broker that waits for each, would come down to one message a commit. Such a one is known by this:
/// as soon as we acknowledge, the next comes, and then none until we acknowledge again. Not safe for several threads.
/// </remarks>
/// <param name="patience">How long a commit is put off for those that do not wait.</param>
internal sealed class AcknowledgementPace(TimeSpan patience, TimeProvider time)
{
    /// <summary>One that waited has the next message there within it; a radio link is slow.</summary>
    public static readonly TimeSpan Soon = TimeSpan.FromMilliseconds(100);

    /// <summary>So long nobody is made to wait; then it is tried again.</summary>
    public static readonly TimeSpan Spared = TimeSpan.FromMinutes(1);

    /// <summary>Twice may be chance: messages that come at random, eight a second, look so one time in fifty.</summary>
    private const int Convincing = 3;

    private long _came;
    private long? _acknowledged;
    private long? _sparedSince;
    private int _held;

    /// <summary>True while commits should not be put off for long.</summary>
    public bool IsAwaited => _sparedSince is { } since && time.GetElapsedTime(since) < Spared;

    /// <summary>A message came that is to be acknowledged.</summary>
    public void Came()
    {
        _came = time.GetTimestamp();
        if (_acknowledged is not { } acknowledged)
            return;
        _acknowledged = null;
        _held = time.GetElapsedTime(acknowledged, _came) <= Soon ? _held + 1 : 0;
        if (_held < Convincing)
            return;
        _held = 0;
        _sparedSince = _came;
    }

    /// <summary>All that came is about to be acknowledged.</summary>
    public void Acknowledges()
    {
        var now = time.GetTimestamp();
        if (IsAwaited)
            return;
        if (time.GetElapsedTime(_came, now) >= patience - Soon)
            _acknowledged = now;
        else
            (_acknowledged, _held) = (null, 0);
    }
}
