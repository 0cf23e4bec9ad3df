using LaserWatch.Alarms;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice.Screen;

/// <summary>What the keys do: acts on the session, the pace, and which list or text is open.</summary>
/// <remarks>While a list, a text or a question is open the recording's time stands.</remarks>
public sealed class PracticeDesk
{
    private readonly PracticeSession _session;
    private readonly PracticePace _pace;
    private readonly List<(Instant At, string Words)> _told = [];
    private PracticeActKind _choiceFor;
    private int _alarmsTold;
    private bool _endTold;

    public PracticeDesk(PracticeSession session, PracticePace pace)
    {
        (_session, _pace) = (session, pace);
        _alarmsTold = session.AlarmsBefore;
        Tell($"{session.Case.Summary} Watch, and say what is wrong, or that nothing is. Press ? for help.");
    }

    public PracticeSession Session => _session;

    public PracticePace Pace => _pace;

    public IReadOnlyList<(Instant At, string Words)> Told => _told;

    public ChoiceList? Choices { get; private set; }

    public Pager? Reading { get; private set; }

    /// <summary>A question that a key answers; null: none.</summary>
    public string? Question { get; private set; }

    public bool IsHeld => Choices is not null || Reading is not null || Question is not null;

    /// <summary>The trainee leaves without a debrief, and nothing is kept.</summary>
    public bool IsLeft { get; private set; }

    /// <summary>Tells alarms that have changed, and the end of the recording.</summary>
    public void Follow()
    {
        for (; _alarmsTold < _session.Changes.Count; _alarmsTold++)
        {
            if (AlarmWords.IsNews(_session.Changes[_alarmsTold]))
                Tell(AlarmWords.Of(_session.Changes[_alarmsTold]), _session.Changes[_alarmsTold].Time);
        }

        if (!_session.IsPlayedOut || _endTold)
            return;
        _endTold = true;
        Tell("The recording is over. You can still ask and answer; d ends with the debrief.");
    }

    public void Take(ConsoleKeyInfo key)
    {
        if (key is { Key: ConsoleKey.C, Modifiers: ConsoleModifiers.Control } || key.KeyChar == '\x03')
        {
            Close();
            AskToEnd();
        }
        else if (Question is not null)
        {
            Answer(key.KeyChar);
        }
        else if (Choices is not null)
        {
            Choose(key);
        }
        else if (Reading is not null)
        {
            if (key.Key is ConsoleKey.Escape or ConsoleKey.Enter || key.KeyChar is 'e' or 'l' or '?')
                Close();
            else
                Reading.Take(key);
        }
        else
        {
            Begin(key);
        }
    }

    private void Begin(ConsoleKeyInfo key)
    {
        switch (key.KeyChar)
        {
            case 'h':
                _pace.IsHeld = !_pace.IsHeld;
                break;
            case >= '1' and <= '9':
                _pace.Speed = PaceKeys.Of(key.KeyChar)!.Value;
                break;
            case 'a':
                Acknowledge();
                break;
            case 'r':
                Open(PracticeActKind.AskReading, "Ask for the reading of which channel?", Channels());
                break;
            case 't':
                Open(PracticeActKind.LookAtTrend, "Look at the trend of which channel?", Channels());
                break;
            case 'c':
                Open(PracticeActKind.NameCause, "Which cause do you name?", _session.Model.Causes.Select(c => (c.Id, c.What)));
                break;
            case 'k':
                Open(PracticeActKind.Check, "What do you check?", _session.Model.Checks.Select(c => (c.Id, $"{PracticeWords.Minutes(c.Minutes)}: {c.How}")));
                break;
            case 's':
                Do(new PracticeAct(PracticeActKind.StopJob));
                break;
            case 'n':
                Do(new PracticeAct(PracticeActKind.SayNothingIsWrong));
                break;
            case 'd' when !_session.Acts.Any(a => a.Act.Kind is PracticeActKind.NameCause or PracticeActKind.SayNothingIsWrong):
                Question = "You have given no answer. d: the debrief all the same | any other key: go on";
                break;
            case 'd':
                Do(new PracticeAct(PracticeActKind.Finish));
                break;
            case 'g':
                Question = "Give up? g: yes, to the debrief | any other key: go on";
                break;
            case 'e':
                AskToEnd();
                break;
            case 'l':
                Reading = new Pager("What you were told, and all alarms", width => PracticeTexts.Told(this, width), fromTheEnd: true);
                break;
            case '?':
                Reading = new Pager("Help", PracticeTexts.Help);
                break;
        }
    }

    private void AskToEnd() => Question = "End the practice? d: with the debrief | e: leave, nothing is kept | any other key: go on";

    private void Answer(char key)
    {
        var asked = Question!;
        Question = null;
        if (key == 'd' && asked.Contains("d: ", StringComparison.Ordinal))
            Do(new PracticeAct(PracticeActKind.Finish));
        else if (key == 'g' && asked.Contains("g: ", StringComparison.Ordinal))
            Do(new PracticeAct(PracticeActKind.GiveUp));
        else if (key == 'e' && asked.Contains("e: ", StringComparison.Ordinal))
            IsLeft = true;
    }

    private void Choose(ConsoleKeyInfo key)
    {
        if (key.Key == ConsoleKey.Enter && Choices!.Chosen is { } chosen)
        {
            Close();
            Do(new PracticeAct(_choiceFor, chosen));
        }
        else if (key.Key == ConsoleKey.Escape)
        {
            Close();
        }
        else
        {
            Choices!.Take(key);
        }
    }

    private void Acknowledge()
    {
        var waiting = PracticeAnswers.Waiting(_session);
        if (waiting.Count < 2)
            Do(new PracticeAct(PracticeActKind.Acknowledge));
        else
            Open(PracticeActKind.Acknowledge, "Acknowledge which alarm?", waiting.Select(a => (a.Condition, $"priority {a.Priority.Name()}: {a.Message}")));
    }

    private void Open(PracticeActKind kind, string title, IEnumerable<(string Id, string Words)> choices) =>
        (_choiceFor, Choices) = (kind, new ChoiceList(title, [.. choices.Select(c => (c.Id, TextFlow.Harmless(c.Words)))]));

    private IEnumerable<(string, string)> Channels() =>
        _session.Channels.Select(c => (c.Name, PracticeWords.With(_session.Trace(c)!.Last, c.Unit)));

    private void Do(PracticeAct act)
    {
        Tell(_session.Do(act).Answer);
        Follow();
    }

    private void Close() => (Choices, Reading, Question) = (null, null, null);

    private void Tell(string words, Instant? at = null) => _told.Add((at ?? _session.Now, TextFlow.Harmless(words)));
}
