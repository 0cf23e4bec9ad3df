using System.CommandLine;
using System.CommandLine.Parsing;
using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case new</c>: cuts a case from the store, around an alarm or of a span of time.</summary>
internal static class CaseNewCommand
{
    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var folder = new Option<string>("--out") { Description = "The folder to make; its name is the case's. One that is there is never written over.", HelpName = "FOLDER", Required = true };
        var alarm = new Option<string?>("--alarm") { Description = "Around the newest raising of this condition, such as air-pressure-low.", HelpName = "CONDITION" };
        var at = SharedOptions.Time("--at", "With --alarm: the raising nearest to this time instead of the newest.");
        var before = Duration("--before", "With --alarm: how much before it the trainee watches; 30m without it.", TimeSpan.FromMinutes(30));
        var after = Duration("--after", "With --alarm: how much after it; 15m without it.", TimeSpan.FromMinutes(15));
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var history = Duration("--history", "How much time with the beam on to put before the watched part, so that it is known what is usual; 2h without it. Nights are leapt over.", TimeSpan.FromHours(2));
        var cause = Many("--cause", "A cause of causes.json that it really was; several: the likeliest first.", "ID");
        var nothing = new Option<bool>("--nothing-wrong") { Description = "Nothing was wrong." };
        var began = SharedOptions.Time("--began", "When it began to go wrong.");
        var check = Many("--check", "A check of causes.json, in the order that a good operator takes.", "ID");
        var title = new Option<string?>("--title") { Description = "What it is called in a list, without the answer.", HelpName = "TEXT" };
        var summary = new Option<string?>("--summary") { Description = "One sentence for the start, without the answer.", HelpName = "TEXT" };
        var level = new Option<string>("--level") { Description = "easy, usual or hard.", DefaultValueFactory = _ => "usual" };
        level.AcceptOnlyFromAmong("easy", "usual", "hard");
        var without = new Option<bool>("--without-names")
        {
            Description = "Leaves people out: notes, serial numbers and free details of the service log; who acknowledged becomes \"operator 1\". Names of jobs and materials stay.",
        };
        var machineAs = new Option<string?>("--machine-as") { Description = "What the machine is called in the case.", HelpName = "NAME" };
        var alarms = new Option<bool>("--with-alarms") { Description = "Keeps the alarms that were told then, which no replay needs." };
        var config = SharedOptions.Config();
        var store = SharedOptions.Store();
        var command = new Command("new", "Cuts a case from the store: recording, sheet and notes, with what is known filled in and the rest marked.")
        {
            machine, folder, alarm, at, before, after, from, to, history, cause, nothing, began, check, title, summary, level, without, machineAs, alarms, config, store,
        };
        SharedOptions.RefuseBoth(command, config, store);
        command.Validators.Add(result => Judge(result, alarm, from, to, [at, before, after], cause, nothing, began));
        command.SetAction((parsed, stop) =>
        {
            var file = parsed.GetValue(config);
            var request = new Request(
                parsed.GetRequiredValue(machine), parsed.GetRequiredValue(folder), parsed.GetValue(alarm), parsed.GetValue(at), parsed.GetRequiredValue(before), parsed.GetRequiredValue(after),
                parsed.GetValue(from), parsed.GetValue(to), parsed.GetRequiredValue(history), parsed.GetValue(without), parsed.GetValue(machineAs), parsed.GetValue(alarms));
            var draft = new CaseDraft
            {
                Machine = request.MachineAs ?? request.Machine,
                WatchFrom = default, // known once the alarm is found
                Title = parsed.GetValue(title),
                Summary = parsed.GetValue(summary),
                Level = Enum.Parse<CaseLevel>(parsed.GetRequiredValue(level), ignoreCase: true),
                Causes = parsed.GetValue(nothing) ? [] : parsed.GetValue(cause) is { Length: > 0 } causes ? causes : null,
                Began = parsed.GetValue(began),
                Checks = parsed.GetValue(check) is { Length: > 0 } checks ? checks : null,
            };
            var model = SharedOptions.Read(file).Causes ?? CausesFile.ReadBuiltIn();
            Require(draft, model);
            return RunAsync(request, draft, model, SharedOptions.StoreOf(file, parsed.GetValue(store)), parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    /// <exception cref="CommandException">The folder's name cannot be a case's.</exception>
    public static void RequireName(string folder)
    {
        var name = Path.GetFileName(Path.TrimEndingDirectorySeparator(Path.GetFullPath(folder)));
        if (!CaseFolder.IsName(name))
            throw new CommandException(ExitCode.BadUsage, $"'{name}' is not a case's name: the folder's name is the case's, {CaseFolder.NameRule}.");
    }

    private sealed record Request(
        string Machine, string Folder, string? Alarm, Instant? At, TimeSpan Before, TimeSpan After, Instant? From, Instant? To, TimeSpan History,
        bool WithoutNames, string? MachineAs, bool KeepsAlarms);

    private static async Task<int> RunAsync(Request request, CaseDraft draft, CauseModel model, StoreOptions options, TextWriter error, CancellationToken stop)
    {
        RequireName(request.Folder);
        if (draft.Machine is var called && !MachineName.IsValid(called))
            throw new CommandException(ExitCode.BadUsage, $"'{called}' is not a machine's name: {MachineName.Rule}.");
        try
        {
            await using var store = StoreAccess.ForReading(options);
            await StoreAccess.RequireMachineAsync(store, options, request.Machine, stop).ConfigureAwait(false);
            var cut = await CutAsync(store, request, stop).ConfigureAwait(false);
            var (recording, from, beam) = await cut.WriteAsync(store, draft, model, request.Folder, stop).ConfigureAwait(false);
            await StoreAccess.TellTrainingAsync(store, options, error).ConfigureAwait(false);
            await TellAsync(request, cut, recording, from, beam, error).ConfigureAwait(false);
            return (int)ExitCode.Done;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot make {request.Folder}: {e.Message.TrimEnd('.')}.");
        }
    }

    private static async Task<CaseCut> CutAsync(ITelemetryStore store, Request request, CancellationToken stop)
    {
        var name = request.MachineAs ?? request.Machine;
        if (request.Alarm is null)
            return new(request.Machine, request.From!.Value, request.To!.Value, null, request.History, name, request.KeepsAlarms, request.WithoutNames);
        var raised = (await store.ReadAlarmChangesAsync(request.Machine, Instant.MinValue, Instant.MaxValue, stop).ConfigureAwait(false))
            .Where(change => change.State == AlarmState.Unacknowledged).ToList();
        var ofIt = raised.Where(change => change.Condition == request.Alarm).ToList();
        if (ofIt.Count == 0)
        {
            var known = raised.Select(change => change.Condition).Distinct().Order(StringComparer.Ordinal).ToList();
            throw new CommandException(
                ExitCode.FoundWanting,
                $"the store has no raising of '{request.Alarm}' at {request.Machine}; " +
                (known.Count == 0 ? "nor of anything else: give --from and --to instead." : $"it has {string.Join(", ", known)}."));
        }

        var around = request.At is { } at ? ofIt.MinBy(change => Math.Abs((decimal)change.Time.UnixNanoseconds - at.UnixNanoseconds))! : ofIt[^1];
        return new(
            request.Machine, around.Time - request.Before, around.Time + request.After, around, request.History, name, request.KeepsAlarms, request.WithoutNames);
    }

    private static async Task TellAsync(Request request, CaseCut cut, CutRecording recording, Instant from, TimeSpan beam, TextWriter error)
    {
        await error.WriteLineAsync(string.Create(
            CultureInfo.InvariantCulture,
            $"{request.Folder}: {recording.Samples} sample(s), {recording.Runs} job run event(s), {recording.Services} service event(s), {recording.Alarms} alarm line(s)")).ConfigureAwait(false);
        await error.WriteLineAsync(
            (cut.Around is { } around ? $"around {around.Condition} of {CaseWords.Of(around.Time)}; " : "")
            + $"watched from {CaseWords.Of(cut.WatchFrom)}; history from {CaseWords.Of(from)}: {beam.TotalMinutes:0} min with the beam on").ConfigureAwait(false);
        if (beam < cut.History)
            await error.WriteLineAsync($"less history than asked for ({cut.History.TotalMinutes:0} min) lies in the {CaseHistory.Furthest.TotalDays:0} days before: the rules may not know what is usual").ConfigureAwait(false);
        if (request.WithoutNames)
        {
            await error.WriteLineAsync(
                $"people left out; look for names yourself in those of the jobs ({string.Join(", ", recording.Jobs)}), their materials, and before you write the notes").ConfigureAwait(false);
        }

        await error.WriteLineAsync($"fill in what is marked \"{CaseSheet.ToFillIn}\" in {CaseFolder.SheetFile} and {CaseFolder.NotesFile}, then: laserwatch case check {request.Folder}").ConfigureAwait(false);
    }

    private static void Judge(
        CommandResult result, Option<string?> alarm, Option<Instant?> from, Option<Instant?> to, Option[] ofAlarm, Option<string[]> cause, Option<bool> nothing, Option<Instant?> began)
    {
        var hasSpan = result.GetResult(from) is not null || result.GetResult(to) is not null;
        if (result.GetResult(alarm) is not null == hasSpan)
            result.AddError("Give --alarm CONDITION, or --from and --to.");
        else if (hasSpan && (result.GetResult(from) is null || result.GetResult(to) is null))
            result.AddError("Give --from and --to together.");
        else if (hasSpan && ofAlarm.FirstOrDefault(option => result.GetResult(option) is { Implicit: false }) is { } stray)
            result.AddError($"{stray.Name} needs --alarm.");
        else if (hasSpan && result.GetValue(from) >= result.GetValue(to))
            result.AddError("--from must be before --to.");
        if (result.GetValue(nothing) && (result.GetResult(cause) is not null || result.GetResult(began) is not null))
            result.AddError("--nothing-wrong goes with neither --cause nor --began.");
    }

    private static void Require(CaseDraft draft, CauseModel model)
    {
        Of("--cause", draft.Causes ?? [], [.. model.Causes.Select(c => c.Id)]);
        Of("--check", draft.Checks ?? [], [.. model.Checks.Select(c => c.Id)]);

        static void Of(string option, IReadOnlyList<string> given, List<string> known)
        {
            if (given.FirstOrDefault(id => !known.Contains(id)) is { } unknown)
            {
                throw new CommandException(
                    ExitCode.BadUsage,
                    $"{option}: there is no '{unknown}' in causes.json; {(NearestWord.To(unknown, known) is { } nearest ? $"did you mean '{nearest}'?" : $"there is: {string.Join(", ", known)}")}");
            }
        }
    }

    private static Option<string[]> Many(string name, string description, string help) =>
        new(name) { Description = description, HelpName = help, AllowMultipleArgumentsPerToken = false };

    private static Option<TimeSpan> Duration(string name, string description, TimeSpan standard) => new(name)
    {
        Description = description,
        HelpName = "DURATION",
        DefaultValueFactory = _ => standard,
        CustomParser = result =>
        {
            var text = result.Tokens.Count == 0 ? "" : result.Tokens[0].Value;
            if (result.Tokens.Count == 0)
                return standard;
            if (DurationText.TryParse(text, out var duration))
                return duration;
            result.AddError($"'{text}' is not a duration: write 30m, 8h or 2d.");
            return default;
        },
    };
}
