using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Walks an alarm change as part of a watch's saved state.</summary>
internal static class AlarmChangeState
{
    public static void Visit(StateVisitor state, ref AlarmChange? change, string machine, string condition)
    {
        var known = change is not null;
        state.Walk(ref known);
        if (!known)
        {
            change = null;
            return;
        }

        var time = change?.Time ?? default;
        var alarm = change?.State ?? default;
        var priority = change?.Priority ?? default;
        var (value, limit) = (change?.Value, change?.Limit);
        var (unit, job, message, by) = (change?.Unit, change?.Job, change?.Message, change?.By);
        state.Walk(ref time);
        state.Walk(ref alarm);
        state.Walk(ref priority);
        state.Walk(ref value);
        state.Walk(ref limit);
        state.Walk(ref unit);
        state.Walk(ref job);
        state.Walk(ref message);
        state.Walk(ref by);
        var evidence = (change?.Evidence ?? []).Select(e => new EvidenceBox { Value = e }).ToList();
        state.Walk(evidence, () => new EvidenceBox(), box => box.Visit(state));
        var checks = (change?.Checks ?? []).Select(c => new TextBox { Value = c }).ToList();
        state.Walk(checks, () => new TextBox(), box => box.Visit(state));
        if (state.IsLoading)
        {
            change = new AlarmChange(
                time, machine, condition, alarm, priority, value, limit, unit ?? "", job, message ?? "",
                [.. evidence.Select(box => box.Value)], [.. checks.Select(box => box.Value ?? "")], by);
        }
    }

    private sealed class EvidenceBox
    {
        public Evidence Value;

        public void Visit(StateVisitor state)
        {
            var (name, number, text) = ((string?)Value.Name, Value.Number, Value.Text);
            state.Walk(ref name);
            state.Walk(ref number);
            state.Walk(ref text);
            Value = new Evidence(name ?? "", number, text);
        }
    }

    private sealed class TextBox
    {
        public string? Value;

        public void Visit(StateVisitor state) => state.Walk(ref Value);
    }
}
