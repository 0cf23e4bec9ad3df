using System.Globalization;
using System.Text;
using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>A message in plain words, for somebody who is tired and stands at no screen: what, where, since when, what to check first.</summary>
/// <remarks>Texts come from outside too (jobs, names, reasons): control characters and line breaks in them become spaces.</remarks>
internal sealed class MessageText(LocalClock clock, string topicRoot)
{
    public string Subject(AlarmMessage message)
    {
        var late = message.IsLate ? "LATE: " : "";
        var entries = message.Entries;
        var subject = message.Cause switch
        {
            MessageCause.Test => "Test, nothing is wrong",
            MessageCause.Unanswered when entries is [var one] => $"NOT ACKNOWLEDGED for {Minutes(message.After)}: {Named(one)}",
            _ when entries is [var one] => $"{Word(one)}: {Named(one)}",
            _ => Summary(message),
        };
        return Plain(late + subject);
    }

    public string Body(AlarmMessage message)
    {
        var text = new StringBuilder();
        if (message.Cause == MessageCause.Test)
            text.Append("This is a test of the delivery, asked for by 'laserwatch check --send-test'. Nothing is wrong.\n\n");
        if (message.IsLate)
            text.Append(CultureInfo.InvariantCulture, $"This comes late: it was due at {clock.Text(message.Due)}, and could not be delivered before.\n\n");
        if (message.Cause == MessageCause.Unanswered)
            text.Append(CultureInfo.InvariantCulture, $"Nobody has acknowledged this alarm within {Minutes(message.After)}. Please see to it.\n\n");

        for (var i = 0; i < message.Entries.Count; i++)
        {
            if (message.Entries.Count > 1)
                text.Append(CultureInfo.InvariantCulture, $"{i + 1}. {Plain($"{Word(message.Entries[i])}: {Named(message.Entries[i])}")}\n");
            Write(text, message.Entries[i], message.Cause == MessageCause.Test);
        }

        return text.Append(Cautions.Advisory).Append('\n').ToString();
    }

    private void Write(StringBuilder text, AlarmEntry entry, bool isTest)
    {
        var change = entry.Change;
        Line("What", change.Message.Length > 0 ? $"{change.Condition}: {change.Message}" : change.Condition);
        Line("Where", change.Job is null ? change.Machine : $"{change.Machine}, job {change.Job}");
        if (change.Value is { } value)
            Line("Measured", change.Limit is { } limit ? $"{Number(value)} {change.Unit}, limit {Number(limit)} {change.Unit}" : $"{Number(value)} {change.Unit}");
        if (entry.Transition == AlarmTransition.Raised)
        {
            Line("Since", clock.Text((entry.Raised ?? change).Time));
        }
        else
        {
            if (entry.Raised is { } raised)
                Line("Since", clock.Text(raised.Time));
            Line(entry.Transition switch { AlarmTransition.Ended => "Ended", AlarmTransition.Acknowledged => "Seen", _ => "Set aside" }, clock.Text(change.Time) + (change.By is null ? "" : $", by {change.By}"));
        }

        Line("Priority", change.Priority.Name());
        Line("State", change.State.Name());
        if (entry.Since is { } since)
            Line("Meanwhile", $"{since.State.Name()}, {clock.Text(since.Time)}{(since.By is null ? "" : $", by {since.By}")}");
        text.Append('\n');
        if (entry.Transition == AlarmTransition.Raised && entry.Since is not { State: AlarmState.Normal } && !isTest)
            WriteWhatToDo(text, change);

        void Line(string name, string what) => text.Append(CultureInfo.InvariantCulture, $"  {name,-10} {Plain(what).TrimEnd()}\n");
    }

    private void WriteWhatToDo(StringBuilder text, AlarmChange change)
    {
        if (change.Checks.Count > 0)
            text.Append("Check first:\n");
        for (var i = 0; i < change.Checks.Count; i++)
            text.Append(CultureInfo.InvariantCulture, $"  {i + 1}. {Plain(change.Checks[i])}\n");
        text.Append(string.Create(CultureInfo.InvariantCulture, $$"""

            To say that you have seen it, where the agent runs:
              laserwatch alarms ack {{change.Machine}} {{change.Condition}} --by YOUR-NAME
            or publish on {{topicRoot}}/{{change.Machine}}/command
              {"do":"acknowledge","condition":"{{change.Condition}}","by":"YOUR-NAME"}


            """).ReplaceLineEndings("\n"));
    }

    private static string Summary(AlarmMessage message)
    {
        var raised = message.Entries.Count(e => e.Transition == AlarmTransition.Raised);
        var ended = message.Entries.Count(e => e.Transition == AlarmTransition.Ended);
        var other = message.Entries.Count - raised - ended;
        var parts = new List<string>();
        if (raised > 0)
            parts.Add($"{raised} raised");
        if (ended > 0)
            parts.Add($"{ended} ended");
        if (other > 0)
            parts.Add($"{other} seen or set aside");
        return $"{message.Entries.Count} alarms ({string.Join(", ", parts)}), first: {Named(message.Entries[0])}";
    }

    private static string Named(AlarmEntry entry) => $"{entry.Change.Condition} at {entry.Change.Machine} ({entry.Change.Priority.Name()})";

    private static string Word(AlarmEntry entry) => entry.Transition switch
    {
        AlarmTransition.Raised => "ALARM",
        AlarmTransition.Ended => "Ended",
        AlarmTransition.Acknowledged => "Seen",
        _ => "Set aside",
    };

    private static string Minutes(TimeSpan? after) => string.Create(CultureInfo.InvariantCulture, $"{after?.TotalMinutes:0.#} minutes");

    private static string Number(double value) => value.ToString("0.###", CultureInfo.InvariantCulture);

    internal static string Plain(string text) => string.Create(text.Length, text, (plain, from) =>
    {
        for (var i = 0; i < plain.Length; i++)
            plain[i] = char.IsControl(from[i]) || from[i] is '\u2028' or '\u2029' ? ' ' : from[i];
    });
}
