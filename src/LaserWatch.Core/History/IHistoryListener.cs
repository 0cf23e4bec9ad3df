using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>What is told of a machine's stored time while it is walked through once, from its first sample to its last.</summary>
/// <remarks>
/// All calls come in the order of time; of one instant, events come before samples, and the end of a run before a start. Several listeners share one walk: each
/// gets the samples of all channels that any of them wants, and skips the others itself. How samples are cut into spans means nothing: a
/// listener must come to the same result whatever the cuts.
/// </remarks>
public interface IHistoryListener
{
    /// <summary>The channels it needs; channels of the table that the walk reads with. None: it hears of events alone.</summary>
    IReadOnlyCollection<Channel> Channels { get; }

    /// <summary>Before everything else.</summary>
    void Begin(HistorySpan span);

    /// <summary>Samples in time order, at equal times by <see cref="Channel.Index"/>; the span is used again after the call.</summary>
    void Take(ReadOnlySpan<Sample> samples);

    /// <summary>The same samples as a table, where the walk has them so: it must come to what <see cref="Take(ReadOnlySpan{Sample})"/> comes to. The table is used again after the call.</summary>
    void Take(in Moments moments);

    /// <summary>A run began or ended, announced or worked out. A start with another at the same instant replaces it: its job was recognised later.</summary>
    void Take(JobEvent run);

    /// <summary>Something was done to the machine. All of the past are told, also those before the span: a tube put in years ago still matters.</summary>
    void Take(ServiceEvent service);

    /// <summary>After everything else.</summary>
    void End();
}

/// <summary>The time that is walked through.</summary>
/// <param name="From">Included; the first stored sample where nobody asked for a later start.</param>
/// <param name="To">Not included.</param>
/// <param name="RunsAreKnown">False where the store holds samples but not one start or end of a run: then no <see cref="JobEvent"/> will come.</param>
public sealed record HistorySpan(string Machine, Instant From, Instant To, bool RunsAreKnown);
