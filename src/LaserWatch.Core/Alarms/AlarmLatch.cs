using System.Globalization;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>One alarm's life cycle: turns verdicts, commands and time into alarm changes, and says each thing once.</summary>
/// <remarks>
/// States and transitions of ANSI/ISA-18.2-2016 and IEC 62682:2022 (state diagram from memory). The diagram's two latched states are
/// <see cref="AlarmState.ReturnedUnacknowledged"/> and <see cref="AlarmState.Acknowledged"/> while the condition is over, marked by
/// <see cref="AlarmChange.IsLatched"/>. Three things differ from the diagram. A person may shelve an alarm, or take it out of service, from
/// whatever keeps it silent already. Design suppresses what is about to be told or was not seen yet, not what a person has seen or must still
/// see: hidden, and told again afterwards, that would be noise. And a normal alarm enters suppression only when its condition comes.
/// </remarks>
public sealed class AlarmLatch
{
    private readonly string _machine;
    private readonly AlarmOptions _options;
    /// <summary>The grade of a breach that was taken up from the log, which holds its priority only.</summary>
    private const int NotKnown = int.MaxValue;

    private readonly ConditionOptions _own;
    private readonly bool _latchesByRule;
    private readonly ChatterWatch _chatter;
    private AlarmState _state;
    private bool _breach;
    private int _grade;
    private Instant? _changing;
    private Instant? _ended;
    private Instant? _acknowledged;
    private Instant? _shelvedUntil;
    private bool _setAside;
    private string? _cause;
    private bool _folded;
    private bool _outgrown;
    private AlarmChange? _last;
    private AlarmChange? _raised;
    private string? _words;

    public AlarmLatch(string machine, string condition, AlarmOptions? options = null)
    {
        _machine = machine;
        Condition = condition;
        _options = options ?? new AlarmOptions();
        _own = _options.Of(condition);
        _latchesByRule = RuleBook.Find(condition)?.Latches ?? false;
        _chatter = new ChatterWatch(_options);
    }

    public string Condition { get; }

    public AlarmState State => _state;

    /// <summary>The condition is there, whatever the alarm's state says of it.</summary>
    public bool IsBreach => _breach;

    /// <summary>The newest change, or null where there has been none.</summary>
    public AlarmChange? Last => _last;

    /// <summary>The newest change into a breach, with the evidence of that moment; null where there has been none.</summary>
    public AlarmChange? Raised => _raised;

    private bool Latches => _own.Latching ?? _latchesByRule;

    /// <summary>Whether the alarm explains others: it is there, or was until so short a time ago, and nobody works on its sensor.</summary>
    public bool Explains(Instant at, TimeSpan settling) =>
        _state != AlarmState.OutOfService && (_breach || (_ended is { } ended && at - ended < settling));

    /// <summary>The change the verdict makes, or null. Undecided changes nothing: a blind rule neither raises nor clears.</summary>
    public AlarmChange? Apply(Reading reading, Instant at, Verdict verdict, Rule rule)
    {
        if (verdict.Judgement == Judgement.Undecided || IsAtRest(verdict))
            return null;
        // Where nobody has seen it yet, it is over and still to be seen.
        if (verdict.Judgement == Judgement.Irrelevant && !Latches && _state != AlarmState.Unacknowledged)
            return _breach ? SetAside(at, rule.Explain(reading, verdict).Message) : null;

        var breach = Delayed(at, verdict);
        if (_grade == NotKnown && breach)
            _grade = (_own.Priority ?? rule.Explain(reading, verdict).Priority) > _last?.Priority ? verdict.Grade - 1 : verdict.Grade;
        var worse = breach && _breach && verdict.Grade > _grade;
        if (breach == _breach && !worse && !_setAside)
            return null;

        var again = breach && !_breach;
        _outgrown |= worse && _folded;
        if (_breach && !breach)
            _ended = at;
        _breach = breach;
        _grade = breach ? verdict.Grade : 0;
        _setAside = false;
        var next = Next(breach);
        var held = again && next == AlarmState.Unacknowledged && _chatter.Annunciated(at);
        if (!breach)
            _chatter.Returned();

        var change = Found(reading, at, verdict, next, held, rule);
        var silent = next is AlarmState.Shelved or AlarmState.OutOfService || (next == AlarmState.SuppressedByDesign && next == _state);
        _state = next;
        _last = change;
        if (breach)
            _raised = change;
        return silent ? null : change;
    }

    // As nearly always: good, and nothing to wait for.
    private bool IsAtRest(in Verdict verdict) => verdict.Judgement != Judgement.Breach && !_breach && !_setAside && _changing is null;

    /// <summary>Another alarm explains this one now, or none does any more.</summary>
    public AlarmChange? Relate(Instant at, Dependency? cause)
    {
        if (cause?.Cause == _cause && (cause?.Folded ?? false) == _folded)
            return null;
        _cause = cause?.Cause;
        _folded = cause?.Folded ?? false;
        if (cause is null)
            _outgrown = false;
        if (cause is { Folded: true } known && !_outgrown && _breach && _state == AlarmState.Unacknowledged)
            return Move(at, AlarmState.SuppressedByDesign, Folded(known.Why), null);
        return _state == AlarmState.SuppressedByDesign && !_setAside && !_folded
            ? Move(at, Released(), "no other alarm explains it any more", null)
            : null;
    }

    /// <summary>What the command makes of the alarm, or null where it does not apply to the state the alarm is in.</summary>
    public AlarmChange? Apply(AlarmCommand command)
    {
        AlarmState? next = (command.Kind, _state) switch
        {
            (AlarmCommandKind.Acknowledge, AlarmState.Unacknowledged) => AlarmState.Acknowledged,
            (AlarmCommandKind.Acknowledge, AlarmState.ReturnedUnacknowledged) => Latches ? AlarmState.Acknowledged : AlarmState.Normal,
            (AlarmCommandKind.Reset, AlarmState.Acknowledged) when !_breach => AlarmState.Normal,
            (AlarmCommandKind.Shelve, not AlarmState.OutOfService) => AlarmState.Shelved,
            (AlarmCommandKind.Unshelve, AlarmState.Shelved) => Released(),
            (AlarmCommandKind.OutOfService, not AlarmState.OutOfService) => AlarmState.OutOfService,
            (AlarmCommandKind.InService, AlarmState.OutOfService) => Released(),
            _ => null,
        };
        if (next is null)
            return null;

        _shelvedUntil = next == AlarmState.Shelved ? command.At + (command.For ?? TimeSpan.FromMinutes(30)) : null;
        _acknowledged = next == AlarmState.Acknowledged ? command.At : null;
        _setAside = false;
        var why = command.Why is null ? "" : $": {command.Why}";
        return Move(command.At, next.Value, $"{Words(command.Kind)} by {command.By}{why}", command.By);
    }

    /// <summary>Ends shelving when its time is over, and tells an acknowledged alarm again where that is wanted.</summary>
    public AlarmChange? Tick(Instant now)
    {
        if (now >= _shelvedUntil)
        {
            _shelvedUntil = null;
            return Move(now, Released(), "shelving is over", null);
        }

        if (_own.ReAlarmMinutes > 0 && _breach && _state == AlarmState.Acknowledged && _acknowledged is { } seen
            && now - seen >= TimeSpan.FromMinutes(_own.ReAlarmMinutes))
        {
            return Move(now, AlarmState.Unacknowledged, string.Create(CultureInfo.InvariantCulture, $"still there {_own.ReAlarmMinutes:0.#} min after it was acknowledged"), null);
        }

        return null;
    }

    /// <summary>The condition's cause was taken away (a new tube): back to normal, whatever was judged before.</summary>
    public AlarmChange? Clear(Instant at, string why)
    {
        var latched = !_breach && _state is AlarmState.Acknowledged;
        _breach = false;
        _grade = 0;
        _changing = null;
        _chatter.Returned();
        return _state switch
        {
            AlarmState.Unacknowledged => Move(at, AlarmState.ReturnedUnacknowledged, why, null),
            AlarmState.Acknowledged when !latched => Move(at, Latches ? AlarmState.Acknowledged : AlarmState.Normal, why, null),
            AlarmState.SuppressedByDesign => Move(at, AlarmState.Normal, why, null),
            _ => null,
        };
    }

    /// <summary>
    /// Takes up a change that was announced before a restart and is newer than what the latch knows: a tick brought it about, and
    /// samples shown again do not. Otherwise the next tick would announce it a second time.
    /// </summary>
    /// <remarks>Shelving is left out: its end is not told by the change, and it is saved at once when it begins.</remarks>
    public void TakeUp(AlarmChange announced)
    {
        if (announced.Time <= _last?.Time || announced.State == AlarmState.Shelved)
            return;
        _state = announced.State;
        _last = announced;
        _words = announced.Message;
        _shelvedUntil = null;
        _changing = null;
        _acknowledged = announced.State == AlarmState.Acknowledged ? announced.Time : null;
        _setAside = announced.State == AlarmState.SuppressedByDesign && announced.ExplainedBy is null;
        if ((announced.State is AlarmState.Unacknowledged or AlarmState.Acknowledged && !announced.IsLatched)
            || (announced.State == AlarmState.SuppressedByDesign && !_setAside))
        {
            _breach = true;
            _grade = NotKnown;
            _raised = announced;
        }
        else if (_setAside || announced.State is AlarmState.Normal or AlarmState.ReturnedUnacknowledged or AlarmState.Acknowledged)
        {
            _breach = false;
            _grade = 0;
            _ended = announced.Time;
        }
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _state);
        state.Walk(ref _breach);
        state.Walk(ref _grade);
        state.Walk(ref _changing);
        state.Walk(ref _ended);
        state.Walk(ref _acknowledged);
        state.Walk(ref _shelvedUntil);
        state.Walk(ref _setAside);
        state.Walk(ref _cause);
        state.Walk(ref _folded);
        state.Walk(ref _outgrown);
        state.Walk(ref _words);
        _chatter.Visit(state);
        AlarmChangeState.Visit(state, ref _last, _machine, Condition);
        AlarmChangeState.Visit(state, ref _raised, _machine, Condition);
    }

    /// <summary>What the condition is, once it has lasted, or been gone, long enough and far enough.</summary>
    private bool Delayed(Instant at, Verdict verdict)
    {
        var breach = verdict.Judgement == Judgement.Breach || (_breach && IsTooNear(verdict));
        if (breach == _breach || verdict.Judgement == Judgement.Irrelevant)
        {
            _changing = null;
            return breach;
        }

        var delay = breach ? _own.OnDelaySeconds
            : Math.Max(_own.OffDelaySeconds, _chatter.Chatters ? 60 * _options.ChatterHoldMinutes : 0);
        _changing ??= at;
        if (at.SecondsSince(_changing.Value) < delay)
            return _breach;
        _changing = null;
        return breach;
    }

    private bool IsTooNear(Verdict verdict) =>
        _own.Deadband > 0 && verdict is { Judgement: Judgement.Normal, Value: { } value, Limit: { } limit } && Math.Abs(value - limit) < _own.Deadband;

    private AlarmState Next(bool breach) => _state switch
    {
        AlarmState.Shelved or AlarmState.OutOfService => _state,
        _ when breach => Released(),
        AlarmState.Unacknowledged => AlarmState.ReturnedUnacknowledged,
        AlarmState.Acknowledged when Latches => AlarmState.Acknowledged,
        AlarmState.ReturnedUnacknowledged => AlarmState.ReturnedUnacknowledged,
        _ => AlarmState.Normal,
    };

    /// <summary>The state of an alarm that nothing holds any more: by its present condition.</summary>
    private AlarmState Released() =>
        !_breach ? AlarmState.Normal : _folded && !_outgrown ? AlarmState.SuppressedByDesign : AlarmState.Unacknowledged;

    /// <summary>What the rule guards is not there now (no job runs): the alarm means nothing, and is not over either.</summary>
    private AlarmChange? SetAside(Instant at, string why)
    {
        _breach = false;
        _grade = 0;
        _changing = null;
        _ended = at;
        var announced = _state == AlarmState.Acknowledged;
        _setAside = announced || _state == AlarmState.SuppressedByDesign;
        return announced ? Move(at, AlarmState.SuppressedByDesign, $"suppressed by design, {why}", null) : null;
    }

    private AlarmChange Found(Reading reading, Instant at, Verdict verdict, AlarmState next, bool chatters, Rule rule)
    {
        var finding = rule.Explain(reading, verdict);
        _words = finding.Message;
        var message = next == AlarmState.SuppressedByDesign ? $"{Folded(null)}: {_words}" : _words;
        if (IsLatched(next))
            message += next == AlarmState.Acknowledged ? "; latched until it is reset" : "; latched until it is acknowledged and reset";
        List<Evidence> evidence = [.. finding.Evidence];
        if (chatters)
        {
            var held = string.Create(CultureInfo.InvariantCulture, $"{_options.ChatterTimes} times within {_options.ChatterSeconds:0} s; held until it has been gone for {_options.ChatterHoldMinutes:0.#} min");
            evidence.Add(new Evidence("chattering", held));
            message += "; it chatters: " + held;
        }

        return new AlarmChange(
            at, _machine, Condition, next, _own.Priority ?? finding.Priority, verdict.Value, verdict.Limit, finding.Unit, reading.Run?.Job,
            message, Marked(evidence, next), finding.Checks);
    }

    private AlarmChange Move(Instant at, AlarmState next, string message, string? by)
    {
        _state = next;
        if (_words is not null)
            message = $"{message}: {_words}";
        _last = _last is null
            ? new AlarmChange(at, _machine, Condition, next, _own.Priority ?? AlarmPriority.Low, null, null, "", null, message, Marked([], next), [], by)
            : _last with { Time = at, State = next, Message = message, By = by, Evidence = Marked(_last.Evidence, next) };
        return _last;
    }

    /// <summary>The evidence, with what the alarm's state adds to it.</summary>
    private List<Evidence> Marked(IEnumerable<Evidence> evidence, AlarmState next)
    {
        List<Evidence> marked =
        [
            .. evidence.Where(e => e.Name is not (AlarmChange.LatchedEvidence or AlarmChange.ExplainedByEvidence or AlarmChange.ShelvedUntilEvidence)),
        ];
        if (_breach && _cause is not null)
            marked.Add(new Evidence(AlarmChange.ExplainedByEvidence, _cause));
        if (IsLatched(next))
            marked.Add(new Evidence(AlarmChange.LatchedEvidence, next == AlarmState.Acknowledged ? "its condition is over; reset it" : "its condition is over; acknowledge and reset it"));
        if (_shelvedUntil is { } until && next == AlarmState.Shelved)
            marked.Add(new Evidence(AlarmChange.ShelvedUntilEvidence, until.ToString()));
        return marked;
    }

    private bool IsLatched(AlarmState next) => !_breach && Latches && next is AlarmState.ReturnedUnacknowledged or AlarmState.Acknowledged;

    private string Folded(string? why) => $"suppressed by design, {_cause} explains it{(why is null ? "" : $" ({why})")}";

    private static string Words(AlarmCommandKind kind) => kind switch
    {
        AlarmCommandKind.Acknowledge => "acknowledged",
        AlarmCommandKind.Shelve => "shelved",
        AlarmCommandKind.Unshelve => "taken off the shelf",
        AlarmCommandKind.OutOfService => "taken out of service",
        AlarmCommandKind.InService => "put back in service",
        _ => "reset",
    };
}
