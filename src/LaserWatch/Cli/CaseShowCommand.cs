using System.CommandLine;
using System.Globalization;
using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch case show</c>: what a trainee may know of a case at the start; with <c>--answer</c> all of it.</summary>
internal static class CaseShowCommand
{
    public static Command Create()
    {
        var name = new Argument<string>("CASE") { Description = CaseArgument.Description };
        var answer = new Option<bool>("--answer") { Description = "Also what was wrong, the checks, and the notes." };
        var config = SharedOptions.Config();
        var command = new Command("show", "Shows a case, without its answer.") { name, answer, config };
        command.SetAction(parsed => Run(parsed.GetRequiredValue(name), parsed.GetValue(answer), parsed.GetValue(config), parsed.InvocationConfiguration.Output));
        return command;
    }

    private static int Run(string name, bool answer, string? config, TextWriter output)
    {
        // A shipped case names what the built-in table has, whatever the shop's own has.
        var model = (ShippedCases.Names.Contains(name) ? null : SharedOptions.Read(config).Causes) ?? CausesFile.ReadBuiltIn();
        var its = CaseArgument.Open(name, model);
        output.WriteLine($"{its.Name}: {its.Title}");
        output.WriteLine($"  {its.Summary}");
        output.WriteLine();
        output.WriteLine($"  level      {CaseWords.Of(its.Level)}, {CaseWords.Of(its.Made)}");
        output.WriteLine($"  machine    {its.Machine}");
        Recording(its, output);
        if (answer)
            Answer(its, model, output);
        return (int)ExitCode.Done;
    }

    private static void Recording(TrainingCase its, TextWriter output)
    {
        var channels = new SortedDictionary<int, string>();
        var runs = new Dictionary<string, int>(StringComparer.Ordinal);
        Instant? first = null;
        Instant? last = null;
        try
        {
            using var reader = its.ReadRecording(new ChannelTable());
            while (reader.Read() is { } e)
            {
                foreach (var value in e.Values)
                    channels.TryAdd(value.Channel.Index, value.Channel.Name);
                if (e.JobRun is { Kind: Jobs.JobEventKind.Start } run)
                    runs[run.Job ?? "(no job named)"] = runs.GetValueOrDefault(run.Job ?? "(no job named)") + 1;
                if (e.Kind != RecordingEventKind.Telemetry)
                    continue;
                first ??= e.At;
                last = e.At;
            }
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording of {its.Name}: {e.Message}");
        }

        if (first is { } from && last is { } to)
            output.WriteLine($"  recording  {CaseWords.Of(from)} to {CaseWords.Of(to)}");
        if (its.WatchFrom is { } watch)
            output.WriteLine($"  watched    from {CaseWords.Of(watch)}; what lies before shows what is usual");
        output.WriteLine($"  channels   {string.Join(", ", channels.Values)}");
        output.WriteLine($"  runs       {string.Join(", ", runs.OrderBy(r => r.Key, StringComparer.Ordinal).Select(r => string.Create(CultureInfo.InvariantCulture, $"{r.Value} of {r.Key}")))}");
    }

    private static void Answer(TrainingCase its, CauseModel model, TextWriter output)
    {
        output.WriteLine();
        if (its.IsNothingWrong)
            output.WriteLine("Nothing was wrong.");
        foreach (var id in its.Causes)
            output.WriteLine($"It was {id}: {model.FindCause(id)!.What}{(its.Began is { } began && id == its.Causes[0] ? $"; since {CaseWords.Of(began)}" : "")}");
        for (var i = 0; i < its.Checks.Count; i++)
        {
            var check = model.FindCheck(its.Checks[i])!;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"  {i + 1}. {check.Id}, {check.Minutes:0.#} min: {check.How} Mind: {check.Safety}"));
        }

        output.WriteLine();
        output.WriteLine(its.Notes.TrimEnd());
    }
}
