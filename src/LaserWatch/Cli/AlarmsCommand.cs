using System.CommandLine;
using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch alarms</c>: what stands, what has been; and, in <see cref="AlarmCommandVerbs"/>, what a person does about it.</summary>
public static class AlarmsCommand
{
    public static Command Create()
    {
        var machine = new Argument<string?>("MACHINE") { Description = "One machine; without it, all.", Arity = ArgumentArity.ZeroOrOne };
        var all = new Option<bool>("--all") { Description = "Every transition, not only the alarms that stand." };
        var priority = Names("--priority", "Only alarms of this priority; may be given again.", Enum.GetValues<AlarmPriority>().Select(p => p.Name()));
        var state = Names("--state", "Only alarms in this state; may be given again.", Enum.GetValues<AlarmState>().Select(s => s.Name()));
        var performance = new Option<bool>("--performance")
        {
            Description = "How the alarms themselves do, beside what the standards recommend: rates, floods, chattering, stale ones, times to "
                + "acknowledge. Days are those of UTC. Ends with 1 where neither a sample nor an alarm is stored in that time.",
        };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var format = new Option<string>("--format") { Description = "table or json (one object a line).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var command = new Command("alarms", "Shows standing alarms, root causes first; or with --all, --from or --to every transition.")
        {
            machine, all, priority, state, performance, from, to, format, config,
        };
        command.Validators.Add(result =>
        {
            if (result.GetResult(performance) is not null && (result.GetResult(all) ?? result.GetResult(priority) ?? result.GetResult(state)) is not null)
                result.AddError("--performance counts all alarms of the time: leave out --all, --priority and --state.");
        });
        command.Validators.Add(result =>
        {
            if (result.GetResult(from) is not null && result.GetResult(to) is not null && result.GetValue(from) >= result.GetValue(to))
                result.AddError("--from must be before --to.");
        });
        foreach (var verb in AlarmCommandVerbs.Create())
            command.Subcommands.Add(verb);
        command.SetAction((parsed, stop) =>
        {
            var (output, error) = (parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error);
            var question = new Question(
                parsed.GetValue(machine), parsed.GetValue(all), parsed.GetValue(priority) ?? [], parsed.GetValue(state) ?? [],
                parsed.GetValue(from), parsed.GetValue(to), parsed.GetValue(format) == "json", parsed.GetValue(config));
            return parsed.GetValue(performance) ? MeasureAsync(question, output, error, stop) : ListAsync(question, output, error, stop);
        });
        return command;
    }

    private static Option<string[]> Names(string name, string description, IEnumerable<string> names)
    {
        var option = new Option<string[]>(name) { Description = description };
        option.AcceptOnlyFromAmong([.. names]);
        return option;
    }

    private sealed record Question(
        string? Machine, bool All, string[] Priorities, string[] States, Instant? From, Instant? To, bool Json, string? Config)
    {
        public bool Wants(AlarmChange change) =>
            (Priorities.Length == 0 || Priorities.Contains(change.Priority.Name())) && (States.Length == 0 || States.Contains(change.State.Name()));
    }

    private static async Task<int> MeasureAsync(Question question, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(question.Config);
        await using var store = StoreAccess.ForReading(options.Store);
        if (question.Machine is { } machine)
            await StoreAccess.RequireMachineAsync(store, options.Store, machine, stop);
        await StoreAccess.TellTrainingAsync(store, options.Store, error);
        var found = await PerformanceSource.ReadAsync(store, question.Machine, question.From, question.To, options.Flood, stop)
            ?? throw new CommandException(ExitCode.FoundWanting, "neither a sample nor an alarm is stored in that time: there is nothing to measure.");
        if (question.Json)
            PerformanceJson.Print(found, output);
        else
            PerformanceText.Print(found, output);
        return (int)ExitCode.Done;
    }

    private static async Task<int> ListAsync(Question question, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(question.Config);
        await using var store = StoreAccess.ForReading(options.Store);
        await StoreAccess.TellTrainingAsync(store, options.Store, error);
        var changes = await store.ReadAlarmChangesAsync(
            question.Machine, question.From ?? Instant.MinValue, question.To ?? Instant.MaxValue, stop);
        if (question.All || question.From is not null || question.To is not null)
        {
            var wanted = changes.Where(question.Wants).Select(c => new PlacedAlarm(c, null, 0)).ToList();
            AlarmListing.Print(wanted, question.Json, output);
            if (wanted.Count == 0)
                await error.WriteLineAsync("No alarm in that time.");
            return (int)ExitCode.Done;
        }

        await FloodWords.TellAsync(store, options.Flood, error, stop);
        var standing = changes.GroupBy(c => (c.Machine, c.Condition)).Select(g => g.Last()).Where(c => c.State != AlarmState.Normal)
            .Where(question.Wants).ToList();
        var listed = question.States.Length > 0 ? standing : standing.Where(c => c.State != AlarmState.SuppressedByDesign).ToList();
        AlarmListing.Print(AlarmOrder.RootsFirst(listed), question.Json, output);
        if (listed.Count == 0)
            await error.WriteLineAsync("No alarm stands.");
        if (standing.Count > listed.Count)
            await error.WriteLineAsync($"{standing.Count - listed.Count} suppressed by design; --state suppressed-by-design lists them, --all every transition.");
        return (int)ExitCode.Done;
    }
}
