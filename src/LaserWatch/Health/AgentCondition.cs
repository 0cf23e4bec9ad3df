using LaserWatch.Delivery;
using LaserWatch.Mqtt;
using LaserWatch.Pipeline;
using LaserWatch.Storage;

namespace LaserWatch.Health;

/// <summary>How one part of the agent is.</summary>
public enum PartState
{
    Good,

    /// <summary>Works, and somebody should look.</summary>
    Impaired,

    /// <summary>Does not do its work.</summary>
    Bad,
}

/// <summary>A look at one part: how it is, and why, in plain words.</summary>
/// <param name="IsNeededToJudge">Without it the process does not judge, and should be started anew. Without the others it judges, and not all of it works.</param>
public sealed record PartLook(string Part, PartState State, string Why, bool IsNeededToJudge);

/// <summary>Whether the agent truly does its work: asked by the pages, the heartbeat and the sign of life alike. Any thread may ask.</summary>
public sealed class AgentCondition(
    WatchFigures figures, IBrokerLink link, SampleWriter writer, DeliveryOutbox delivery, SteadyTime clock,
    HealthOptions options)
{
    private static readonly TimeSpan JumpIsNews = TimeSpan.FromHours(1);

    private TimeSpan StuckAfter => TimeSpan.FromSeconds(options.StuckAfterSeconds);

    public bool Judges => Pipeline().State != PartState.Bad;

    /// <summary>What keeps the agent from doing its work; empty: all of it works.</summary>
    public IReadOnlyList<PartLook> Faults => [.. Look().Where(look => look.State == PartState.Bad)];

    public IReadOnlyList<PartLook> Look() => [Pipeline(), Resumed(), Broker(), Store(), Delivery(), Clock()];

    private PartLook Pipeline()
    {
        if (!figures.IsWatching)
            return new("pipeline", PartState.Good, "not begun: see 'resumed'", IsNeededToJudge: true);
        var since = clock.GetElapsedTime(figures.BeatAt);
        return since > StuckAfter
            ? new("pipeline", PartState.Bad, $"stuck: no tick was handled for {DurationWords.Of(since)}", IsNeededToJudge: true)
            : new("pipeline", PartState.Good, "judges messages and ticks", IsNeededToJudge: true);
    }

    private PartLook Resumed() => figures.IsWatching
        ? new("resumed", PartState.Good, "the watch goes on where the last process left it", IsNeededToJudge: false)
        : new("resumed", PartState.Bad, "the store is not open yet, or what it holds is still looked through; nothing is judged", IsNeededToJudge: false);

    private PartLook Broker() => link.IsConnected
        ? new("broker", PartState.Good, "connected", IsNeededToJudge: false)
        : new("broker", PartState.Bad, "not connected: no sensor is heard, and no alarm reaches MQTT", IsNeededToJudge: false);

    private PartLook Store()
    {
        var waiting = writer.Waiting;
        if (writer.IsStoreFailing)
            return new("store", PartState.Bad, $"takes nothing; {waiting} items wait", IsNeededToJudge: false);
        if (writer.CommittingFor is { } hanging && hanging > StuckAfter)
            return new("store", PartState.Bad, $"has been writing one batch for {DurationWords.Of(hanging)}; {waiting} items wait", IsNeededToJudge: false);
        return new("store", PartState.Good, $"writing; {waiting} items wait", IsNeededToJudge: false);
    }

    // Impaired and not bad: alarms still stand on MQTT, in the log and in the store.
    private PartLook Delivery()
    {
        var status = delivery.Status;
        var failing = status.Outlets.Where(outlet => outlet.FailingSince is not null).Select(
            outlet => $"{outlet.Name} has taken nothing since {outlet.FailingSince}, {outlet.Waiting} wait").ToList();
        if (status.Dropped > 0)
            failing.Add($"{status.Dropped} changes found no room");
        if (failing.Count > 0)
            return new("delivery", PartState.Impaired, string.Join("; ", failing), IsNeededToJudge: false);
        var words = status.Outlets.Count == 0 ? "no outlets beyond MQTT" : $"all of {string.Join(", ", status.Outlets.Select(outlet => outlet.Name))}";
        return new("delivery", PartState.Good, words, IsNeededToJudge: false);
    }

    private PartLook Clock()
    {
        if (clock.LastJump is not { } last)
            return new("clock", PartState.Good, "no jump since the start", IsNeededToJudge: false);
        var words = $"{ClockNotes.Words(last.Jump.By, 1)}, {DurationWords.Of(last.Ago)} ago; jumps since the start: {clock.Jumps}";
        return new("clock", last.Ago < JumpIsNews ? PartState.Impaired : PartState.Good, words, IsNeededToJudge: false);
    }
}
