using System.CommandLine;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.History;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch annotate</c>: says of a span of a machine's past that it was good, faulty, or is to be ignored.</summary>
/// <remarks>
/// What is entered goes the way of the service log: over MQTT where an agent runs, else into the store. A span that has begun already is left out of what the
/// running agent's rules have learned when it starts the next time; trends, reports and comparisons honour it at once.
/// </remarks>
public static class AnnotateCommand
{
    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var from = SharedOptions.Time("--from", "Where the span begins, such as 2026-03-09T08:00:00Z.");
        var to = SharedOptions.Time("--to", "Where it ends; not included.");
        var kind = new Option<string?>("--as") { Description = "good: an alarm in it was false; faulty: one should be raised, and nothing is learned of it; ignore: neither learned nor counted." };
        kind.AcceptOnlyFromAmong([.. Enum.GetValues<AnnotationKind>().Select(Annotation.NameOf)]);
        var cause = new Option<string?>("--cause") { Description = "What was wrong, of a faulty span: a cause of the diagnosis.", HelpName = "ID" };
        var note = new Option<string?>("--note") { Description = "Anything worth knowing later.", HelpName = "TEXT" };
        var by = new Option<string?>("--by") { Description = "Who says so.", HelpName = "NAME" };
        var list = new Option<bool>("--list") { Description = "Lists what is in force, with the alarms that were raised in each span." };
        var remove = new Option<string?>("--remove") { Description = "Withdraws one; it stays in the service log.", HelpName = "ID" };
        var format = new Option<string>("--format") { Description = "With --list: table or json (one object a line).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var store = SharedOptions.Store();
        var command = new Command("annotate", "Says of a span of a machine's past that it was good, faulty, or is to be ignored: baselines, trends and comparisons honour it.")
        {
            machine, from, to, kind, cause, note, by, list, remove, format, config, store,
        };
        SharedOptions.RefuseBoth(command, config, store);
        command.SetAction((parsed, stop) =>
        {
            var name = parsed.GetRequiredValue(machine);
            if (!MachineName.IsValid(name))
                throw new CommandException(ExitCode.BadUsage, $"'{name}' is not a machine's name: {MachineName.Rule}.");
            var (output, error) = (parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error);
            var place = new AnnotationPlace(parsed.GetValue(config), parsed.GetValue(store));
            var (since, until) = (parsed.GetValue(from), parsed.GetValue(to));
            if (parsed.GetValue(kind) is { } told)
            {
                if (parsed.GetValue(list) || parsed.GetValue(remove) is not null)
                    throw new CommandException(ExitCode.BadUsage, "--as, --list and --remove are three things: give one.");
                var annotation = Made(name, since, until, told, parsed.GetValue(cause), parsed.GetValue(note), parsed.GetValue(by));
                return AddAsync(annotation, place, output, error, stop);
            }

            if (parsed.GetValue(remove) is { } id)
                return RemoveAsync(name, id, parsed.GetValue(by), place, error, stop);
            return parsed.GetValue(list)
                ? AnnotationListing.PrintAsync(name, since ?? Instant.MinValue, until ?? Instant.MaxValue, parsed.GetValue(format) == "json", place, output, error, stop)
                : throw new CommandException(ExitCode.BadUsage, "say what to do: --from, --to and --as; --list; or --remove.");
        });
        return command;
    }

    private static Annotation Made(string machine, Instant? from, Instant? to, string kind, string? cause, string? note, string? by)
    {
        if (from is not { } begin || to is not { } end)
            throw new CommandException(ExitCode.BadUsage, "--as needs the span: --from and --to.");
        if (begin >= end)
            throw new CommandException(ExitCode.BadUsage, "--from must be before --to.");
        if (cause is not null && kind != Annotation.NameOf(AnnotationKind.Faulty))
            throw new CommandException(ExitCode.BadUsage, "--cause goes with --as faulty.");
        // Cut to what its entry spells.
        (begin, end) = (Instant.From(begin.ToDateTimeOffset()), Instant.From(end.ToDateTimeOffset()));
        var made = Instant.From(TimeProvider.System.GetUtcNow());
        var told = Enum.GetValues<AnnotationKind>().First(k => Annotation.NameOf(k) == kind);
        return new(machine, AnnotationPlace.NewId(machine, begin, end, made), told, begin, end, cause, note, by ?? Environment.UserName, made);
    }

    private static async Task<int> AddAsync(Annotation annotation, AnnotationPlace place, TextWriter output, TextWriter error, CancellationToken stop)
    {
        if (annotation.Cause is { } cause && place.Causes() is var causes && causes.FindCause(cause) is null)
        {
            var known = causes.Causes.Select(c => c.Id).ToList();
            throw new CommandException(
                ExitCode.BadUsage,
                NearestWord.To(cause, known) is { } near ? $"--cause {cause}: no such cause; did you mean {near}?" : $"--cause {cause}: no such cause; there is {string.Join(", ", known)}.");
        }

        await place.EnterAsync(annotation.ToEvent(), error, stop).ConfigureAwait(false);
        if (annotation.LeavesOut && annotation.From <= annotation.Made && place.StoreFile is null)
            await error.WriteLineAsync("Trends, reports and comparisons leave the span out from now on; the agent's rules learn without it at its next start.").ConfigureAwait(false);
        await output.WriteLineAsync(annotation.Id).ConfigureAwait(false);
        return (int)ExitCode.Done;
    }

    private static async Task<int> RemoveAsync(string machine, string id, string? by, AnnotationPlace place, TextWriter error, CancellationToken stop)
    {
        var known = await place.ReadAsync(machine, stop).ConfigureAwait(false);
        if (known.FirstOrDefault(a => a.Id == id) is not { } annotation)
        {
            throw new CommandException(
                ExitCode.FoundWanting,
                known.Count == 0 ? $"{machine} has no annotations." : $"{machine} has no annotation {id}; there is {string.Join(", ", known.Select(a => a.Id))}.");
        }

        await place.EnterAsync(annotation.ToRemoval(by ?? Environment.UserName, Instant.From(TimeProvider.System.GetUtcNow())), error, stop).ConfigureAwait(false);
        return (int)ExitCode.Done;
    }
}
