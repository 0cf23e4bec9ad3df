using System.Globalization;
using System.Text;
using LaserWatch.Alarms;

namespace LaserWatch.Cli;

/// <summary>Prints alarms as a table or as JSON, a line each; what another explains stands beneath it, indented.</summary>
internal static class AlarmListing
{
    public static void Print(IReadOnlyList<PlacedAlarm> alarms, bool json, TextWriter output)
    {
        if (json)
        {
            foreach (var alarm in alarms)
                output.WriteLine(Encoding.UTF8.GetString(AlarmJson.ToUtf8(alarm.Change)));
            return;
        }

        var listing = new Listing("time", "machine", "condition", "state", "priority", "value", "limit", "job", "note", "check first");
        foreach (var (change, cause, depth) in alarms)
        {
            listing.Row(
                change.Time.ToString(), change.Machine, new string(' ', 2 * depth) + change.Condition, change.State.Name(), change.Priority.Name(),
                Number(change.Value, change.Unit), Number(change.Limit, change.Unit), change.Job ?? "", Note(change, cause),
                change.Checks.Count > 0 ? change.Checks[0] : "");
        }

        if (!listing.IsEmpty)
            listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
    }

    /// <summary>Who did what and until when, what explains it, what it waits for.</summary>
    private static string Note(AlarmChange change, AlarmChange? cause)
    {
        var notes = new List<string>();
        if (change.IsTraining)
            notes.Add("training");
        if ((cause?.Condition ?? change.ExplainedBy) is { } root)
            notes.Add($"explained by {root}");
        if (change.State == AlarmState.Shelved)
        {
            var until = change.Evidence.FirstOrDefault(e => e.Name == AlarmChange.ShelvedUntilEvidence).Text;
            notes.Add(until is null ? change.Message : $"until {until}, {change.Message}");
        }
        else if (change.State is AlarmState.OutOfService or AlarmState.SuppressedByDesign)
        {
            notes.Add(change.Message);
        }
        else if (change.By is not null)
        {
            notes.Add($"by {change.By}");
        }

        if (change.IsLatched)
            notes.Add("its condition is over; it waits to be reset");
        return string.Join("; ", notes);
    }

    private static string Number(double? value, string unit) =>
        value is { } number ? string.Create(CultureInfo.InvariantCulture, $"{number:0.##} {unit}").TrimEnd() : "";
}
