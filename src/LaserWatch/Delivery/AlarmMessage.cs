using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>Why a message is sent.</summary>
public enum MessageCause
{
    /// <summary>An alarm changed.</summary>
    News,

    /// <summary>Several changes that were held: for the end of rest hours, to be gathered, in a flood.</summary>
    Gathered,

    /// <summary>Nobody has acknowledged an alarm.</summary>
    Unanswered,

    /// <summary>Somebody tries whether messages arrive.</summary>
    Test,
}

/// <summary>What an outlet is given to deliver: one alarm's change, or several that are told together.</summary>
/// <param name="Id">The same each time the same message is sent, so that a receiver can tell a second copy: 32 hex digits.</param>
/// <param name="Due">When it should have gone out.</param>
/// <param name="IsLate">It goes out long after that.</param>
/// <param name="After">How long nobody had acknowledged it, where that is the cause.</param>
public sealed record AlarmMessage(
    string Id, MessageCause Cause, IReadOnlyList<AlarmEntry> Entries, Instant Due, bool IsLate = false, TimeSpan? After = null)
{
    /// <summary>The message's name, from its content and its outlet: for a single change that is news, the change's own.</summary>
    internal static string IdOf(MessageCause cause, string outlet, int step, IReadOnlyList<string> changes) =>
        cause != MessageCause.Unanswered && changes.Count == 1
            ? changes[0]
            : Digest.Of(Encoding.UTF8.GetBytes($"{cause}/{outlet}/{step}/{string.Join('/', changes)}")).ToString()[..32];
}

/// <summary>One alarm in a message.</summary>
/// <param name="Change">The newest that the message tells of it.</param>
/// <param name="Raised">The change that raised it; null where it is not known, or is <paramref name="Change"/> itself.</param>
/// <param name="Since">What became of it since the message was made; null where nothing did.</param>
/// <param name="Overtaken">Ids of earlier changes that were held and are told by this one.</param>
public sealed record AlarmEntry(
    AlarmChange Change, AlarmTransition Transition, AlarmChange? Raised, AlarmChange? Since, IReadOnlyList<string> Overtaken);
