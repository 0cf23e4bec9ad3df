using System.CommandLine;
using System.Globalization;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch alarms</c>: what stands, what has been; and, in <see cref="AlarmCommandVerbs"/>, what a person does about it.</summary>
public static class AlarmsCommand
{
    public static Command Create()
    {
        var machine = new Argument<string?>("MACHINE") { Description = "One machine; without it, all.", Arity = ArgumentArity.ZeroOrOne };
        var all = new Option<bool>("--all") { Description = "Every transition, not only the alarms that stand." };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var format = new Option<string>("--format") { Description = "table or json (one object a line).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var command = new Command("alarms", "Shows standing alarms, or with --all, --from or --to every transition.")
        {
            machine, all, from, to, format, config,
        };
        foreach (var verb in AlarmCommandVerbs.Create())
            command.Subcommands.Add(verb);
        command.SetAction((parsed, stop) => ListAsync(
            new Question(
                parsed.GetValue(machine), parsed.GetValue(all), parsed.GetValue(from), parsed.GetValue(to), parsed.GetValue(format) == "json",
                parsed.GetValue(config)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private sealed record Question(string? Machine, bool All, Instant? From, Instant? To, bool Json, string? Config);

    private static async Task<int> ListAsync(Question question, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(question.Config);
        await using var store = StoreAccess.ForReading(options.Store);
        IEnumerable<AlarmChange> changes = await store.ReadAlarmChangesAsync(
            question.Machine, question.From ?? Instant.MinValue, question.To ?? Instant.MaxValue, stop);
        var history = question.All || question.From is not null || question.To is not null;
        if (!history)
        {
            changes = changes.GroupBy(c => (c.Machine, c.Condition)).Select(g => g.Last()).Where(c => c.State != AlarmState.Normal)
                .OrderByDescending(c => c.Priority).ThenBy(c => c.Time);
        }

        Print(changes, history, question.Json, output, error);
        return (int)ExitCode.Done;
    }

    private static void Print(IEnumerable<AlarmChange> changes, bool history, bool json, TextWriter output, TextWriter error)
    {
        if (json)
        {
            foreach (var change in changes)
                output.WriteLine(Encoding.UTF8.GetString(AlarmJson.ToUtf8(change)));
            return;
        }

        var listing = new Listing("time", "machine", "condition", "state", "priority", "value", "limit", "job", "check first");
        foreach (var change in changes)
        {
            listing.Row(
                change.Time.ToString(), change.Machine, change.Condition, change.State.Name(), change.Priority.Name(),
                Number(change.Value, change.Unit), Number(change.Limit, change.Unit), change.Job ?? "",
                change.Checks.Count > 0 ? change.Checks[0] : "");
        }

        if (listing.IsEmpty)
            error.WriteLine(history ? "No alarm in that time." : "No alarm stands.");
        else
            listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
    }

    private static string Number(double? value, string unit) =>
        value is { } number ? string.Create(CultureInfo.InvariantCulture, $"{number:0.##} {unit}").TrimEnd() : "";
}
