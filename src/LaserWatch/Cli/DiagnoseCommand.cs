using System.CommandLine;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch diagnose</c>: a cut went bad; ranked causes, and the order to check them in.</summary>
/// <remarks>Exit status 1: nothing is known of the machine, so the ranking is the table's alone; it is printed all the same.</remarks>
public static class DiagnoseCommand
{
    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var job = new Option<string?>("--job") { Description = "The job that was cut; without it, that of the last run.", HelpName = "NAME" };
        var seen = Words("--seen", "What was seen, such as not-through,charred-edge,weaker-everywhere; see --words.");
        var notSeen = Words("--not-seen", "What was looked for and is not so.");
        var found = Words("--found", "Causes, or checks, that were found true: prints the mend and how to log it.");
        var ruledOut = Words("--ruled-out", "Causes, or checks, that were looked at and found good.");
        var recording = new Option<string?>("--recording") { Description = "A recording, .lp or .lp.gz, instead of the store.", HelpName = "FILE" };
        var at = SharedOptions.Time("--at", "With --recording: stop there instead of at its end.");
        var words = new Option<bool>("--words") { Description = "Lists the words for --seen, --found and --ruled-out, and ends." };
        var format = new Option<string>("--format") { Description = "table or json (one object).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var command = new Command("diagnose", "A cut went bad: ranks the causes by all that is known, and says in which order to check. What is told here is not kept.")
        {
            machine, job, seen, notSeen, found, ruledOut, recording, at, words, format, config,
        };
        command.Validators.Add(result =>
        {
            if (result.GetResult(at) is not null && result.GetResult(recording) is null)
                result.AddError("--at needs --recording: the store is diagnosed as it stands now.");
        });
        command.SetAction((parsed, stop) => RunAsync(
            new Question(
                parsed.GetRequiredValue(machine), parsed.GetValue(job), List(parsed.GetValue(seen)), List(parsed.GetValue(notSeen)), List(parsed.GetValue(found)),
                List(parsed.GetValue(ruledOut)), parsed.GetValue(recording), parsed.GetValue(at), parsed.GetValue(words), parsed.GetValue(format) == "json", parsed.GetValue(config)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;

        static Option<string[]> Words(string name, string description) =>
            new(name) { Description = description, HelpName = "WORDS", AllowMultipleArgumentsPerToken = false };

        static string[] List(string[]? given) =>
            [.. (given ?? []).SelectMany(g => g.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)).Distinct()];
    }

    private sealed record Question(
        string Machine, string? Job, string[] Seen, string[] NotSeen, string[] Found, string[] RuledOut, string? Recording, Instant? At, bool Words,
        bool Json, string? Config);

    private static async Task<int> RunAsync(Question question, TextWriter output, TextWriter error, CancellationToken stop)
    {
        if (!MachineName.IsValid(question.Machine))
            throw new CommandException(ExitCode.BadUsage, $"'{question.Machine}' is not a machine's name: {MachineName.Rule}.");
        var options = question.Recording is null ? AgentConfiguration.Read(question.Config) : SharedOptions.Read(question.Config);
        var model = options.Causes ?? CausesFile.ReadBuiltIn();
        if (question.Words)
        {
            DiagnosisWords.Print(model, output);
            return (int)ExitCode.Done;
        }

        var told = DiagnosisWords.Sort(model, question.Seen, question.NotSeen, question.Found, question.RuledOut);
        var known = question.Recording is { } file
            ? await DiagnosisSource.FromRecordingAsync(options, file, question.Machine, question.At, question.Job, error, stop)
            : await DiagnosisSource.FromStoreAsync(options, question.Machine, question.Job, stop);
        if (question.Job is { } job && known.Machine.Record is null)
            await error.WriteLineAsync($"Nothing is recorded for '{job}'{Instead(job, known.Jobs)}; without a record there is nothing to compare with.");
        if (known.Machine.Newest is null)
            await error.WriteLineAsync($"Nothing is known of '{question.Machine}'{Instead(question.Machine, known.Machines)}; the ranking is the table's alone.");

        var cut = DiagnosedCut.Of(model, known.Machine, told.Seen, told.NotSeen, told.Looked);
        if (question.Json)
            DiagnosisJson.Print(cut, output);
        else
            DiagnosisText.Print(cut, output);
        return (int)(cut.Machine.Newest is not null || cut.IsAnythingKnown ? ExitCode.Done : ExitCode.FoundWanting);
    }

    private static string Instead(string word, IReadOnlyList<string> known) =>
        known.Count == 0 ? "" : NearestWord.To(word, known) is { } nearest ? $" (did you mean '{nearest}'?)" : $" (there is: {string.Join(", ", known)})";
}
