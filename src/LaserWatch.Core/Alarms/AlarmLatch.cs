using LaserWatch.Detection;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Turns verdicts and commands into alarm changes: says a thing once, and remembers who has seen it.</summary>
/// <remarks>States as in ANSI/ISA-18.2-2016 and IEC 62682 (state diagram from memory).</remarks>
public sealed class AlarmLatch(string machine, string condition)
{
    private AlarmState _state;
    private bool _breach;
    private int _grade;
    private Instant? _shelvedUntil;
    private AlarmChange? _last;
    private AlarmChange? _raised;
    private string? _words;

    public string Condition { get; } = condition;

    public AlarmState State => _state;

    /// <summary>The newest change, or null where there has been none.</summary>
    public AlarmChange? Last => _last;

    /// <summary>The newest change into a breach, with the evidence of that moment; null where there has been none.</summary>
    public AlarmChange? Raised => _raised;

    /// <summary>The change the verdict makes, or null. Undecided changes nothing: a blind rule neither raises nor clears.</summary>
    public AlarmChange? Apply(Reading reading, Instant at, Verdict verdict, IDetector detector)
    {
        if (verdict.Judgement == Judgement.Undecided)
            return null;
        var breach = verdict.Judgement == Judgement.Breach;
        var worse = breach && _breach && verdict.Grade > _grade;
        if (breach == _breach && !worse)
            return null;

        _breach = breach;
        _grade = breach ? verdict.Grade : 0;
        var next = (_state, breach) switch
        {
            (AlarmState.Shelved or AlarmState.OutOfService or AlarmState.SuppressedByDesign, _) => _state,
            (_, true) => AlarmState.Unacknowledged,
            (AlarmState.Unacknowledged, false) => AlarmState.ReturnedUnacknowledged,
            _ => AlarmState.Normal,
        };

        var finding = detector.Explain(reading, verdict);
        var change = new AlarmChange(
            at, machine, Condition, next, finding.Priority, verdict.Value, verdict.Limit, finding.Unit, reading.Run?.Job,
            finding.Message, finding.Evidence, finding.Checks);
        var silent = next == _state && !worse;
        _state = next;
        _last = change;
        if (breach)
            _raised = change;
        _words = finding.Message;
        return silent || next is AlarmState.Shelved or AlarmState.OutOfService ? null : change;
    }

    /// <summary>What the command makes of the alarm, or null where it does not apply to the state the alarm is in.</summary>
    public AlarmChange? Apply(AlarmCommand command)
    {
        var now = _breach ? AlarmState.Unacknowledged : AlarmState.Normal;
        AlarmState? next = (command.Kind, _state) switch
        {
            (AlarmCommandKind.Acknowledge, AlarmState.Unacknowledged) => AlarmState.Acknowledged,
            (AlarmCommandKind.Acknowledge, AlarmState.ReturnedUnacknowledged) => AlarmState.Normal,
            (AlarmCommandKind.Shelve, not AlarmState.OutOfService) => AlarmState.Shelved,
            (AlarmCommandKind.Unshelve, AlarmState.Shelved) => now,
            (AlarmCommandKind.OutOfService, not AlarmState.OutOfService) => AlarmState.OutOfService,
            (AlarmCommandKind.InService, AlarmState.OutOfService) => now,
            _ => null,
        };
        if (next is null)
            return null;

        _shelvedUntil = next == AlarmState.Shelved ? command.At + (command.For ?? TimeSpan.FromMinutes(30)) : null;
        var why = command.Why is null ? "" : $": {command.Why}";
        return Move(command.At, next.Value, $"{Words(command.Kind)} by {command.By}{why}", command.By);
    }

    /// <summary>Ends shelving when its time is over.</summary>
    public AlarmChange? Tick(Instant now)
    {
        if (_shelvedUntil is not { } until || now < until)
            return null;
        _shelvedUntil = null;
        return Move(now, _breach ? AlarmState.Unacknowledged : AlarmState.Normal, "shelving is over", null);
    }

    /// <summary>The condition's cause was taken away (a new tube): back to normal, whatever was judged before.</summary>
    public AlarmChange? Clear(Instant at, string why)
    {
        _breach = false;
        _grade = 0;
        return _state switch
        {
            AlarmState.Unacknowledged => Move(at, AlarmState.ReturnedUnacknowledged, why, null),
            AlarmState.Acknowledged => Move(at, AlarmState.Normal, why, null),
            _ => null,
        };
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _state);
        state.Walk(ref _breach);
        state.Walk(ref _grade);
        state.Walk(ref _shelvedUntil);
        state.Walk(ref _words);
        AlarmChangeState.Visit(state, ref _last, machine, Condition);
        AlarmChangeState.Visit(state, ref _raised, machine, Condition);
    }

    private AlarmChange Move(Instant at, AlarmState next, string message, string? by)
    {
        _state = next;
        if (_words is not null)
            message = $"{message}: {_words}";
        _last = _last is null
            ? new AlarmChange(at, machine, Condition, next, AlarmPriority.Low, null, null, "", null, message, [], [], by)
            : _last with { Time = at, State = next, Message = message, By = by };
        return _last;
    }

    private static string Words(AlarmCommandKind kind) => kind switch
    {
        AlarmCommandKind.Acknowledge => "acknowledged",
        AlarmCommandKind.Shelve => "shelved",
        AlarmCommandKind.Unshelve => "taken off the shelf",
        AlarmCommandKind.OutOfService => "taken out of service",
        _ => "put back in service",
    };
}
