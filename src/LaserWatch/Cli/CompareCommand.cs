using System.CommandLine;
using System.Diagnostics;
using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Plots;
using LaserWatch.Recordings;
using LaserWatch.Rehearsal;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch compare</c>: the past through the rules of two configurations, side by side: which alarms appear, vanish or move.</summary>
/// <remarks>Exit status 0 also where they differ: a difference is what was asked for, and nothing wrong.</remarks>
public static class CompareCommand
{
    private static readonly TimeSpan DefaultTolerance = TimeSpan.FromHours(1);

    public static Command Create()
    {
        var recordings = new Argument<string[]>("RECORDING")
        {
            Description = "Recordings, .lp or .lp.gz: of machines side by side, or months one after the other; - reads standard input.",
            Arity = ArgumentArity.ZeroOrMore,
        };
        var machines = new Option<string[]>("--machine") { Description = "Instead of recordings, what the store of A holds of this machine; may be given several times.", HelpName = "MACHINE" };
        var cases = new Option<string[]>("--case") { Description = "Instead of recordings, a training case, shipped or a folder, each by itself and counted by what really was wrong; all: the shipped ones.", HelpName = "CASE" };
        var store = new Option<string?>("--store") { Description = "With --machine: another store, an SQLite file, than that of A.", HelpName = "FILE" };
        var configs = new Option<string[]>("--config", "-c") { Description = "The configuration A, then B; one alone is B, and A is what holds without a file.", HelpName = "FILE" };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var tolerance = new Option<string?>("--tolerance")
        {
            Description = "Alarms of one condition raised within this are the same one, as are those that stand at one time: 30m, 8h, 2d. Without it 1h.",
            HelpName = "DURATION",
        };
        var all = new Option<bool>("--all") { Description = "Lists alarms too that are the same under both." };
        var differences = new Option<bool>("--differences") { Description = "Also lists each setting in which the two differ." };
        var format = new Option<string>("--format") { Description = "table or json (one object).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var plot = new Option<string?>("--plot") { Description = "Also draws both timelines, one above the other, as .svg or .png.", HelpName = "FILE" };
        var command = new Command("compare", "Plays the past through the rules of two configurations: which alarms appear, vanish or move. Exit status 0 whether they differ or not.")
        {
            recordings, machines, cases, store, configs, from, to, tolerance, all, differences, format, plot,
        };
        command.SetAction((parsed, stop) =>
        {
            var request = new Request(
                parsed.GetValue(recordings) ?? [], parsed.GetValue(machines) ?? [], parsed.GetValue(cases) ?? [], parsed.GetValue(store), parsed.GetValue(configs) ?? [],
                parsed.GetValue(from) ?? Instant.MinValue, parsed.GetValue(to) ?? Instant.MaxValue, Tolerance(parsed.GetValue(tolerance)),
                new ComparisonShown(parsed.GetValue(all), parsed.GetValue(differences), parsed.GetValue(format) == "json"),
                PictureFile.Of(parsed.GetValue(plot), null));
            Check(request);
            return RunAsync(request, parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private sealed record Request(
        string[] Recordings, string[] Machines, string[] Cases, string? Store, string[] Configs, Instant From, Instant To, TimeSpan Tolerance, ComparisonShown Shown,
        PictureFile? Picture);

    private static TimeSpan Tolerance(string? text) => text is null ? DefaultTolerance
        : DurationText.TryParse(text, out var tolerance) ? tolerance
        : throw new CommandException(ExitCode.BadUsage, $"--tolerance {text}: write a length of time, such as 30m, 8h or 2d.");

    private static void Check(Request request)
    {
        var wrong = new[] { request.Recordings, request.Machines, request.Cases }.Count(named => named.Length > 0) != 1
                ? "name recordings, machines of the store by --machine, or training cases by --case: one of the three."
            : request.Store is not null && request.Machines.Length == 0 ? "--store goes with --machine."
            : request.Configs.Length is not (1 or 2) ? $"--config is given {request.Configs.Length} times: name A and B, or B alone against what holds without a file."
            : request.Recordings.Count(path => path == "-") > 1 ? "standard input, -, can be read only once."
            : request.From >= request.To ? "--from must be before --to."
            : null;
        if (wrong is not null)
            throw new CommandException(ExitCode.BadUsage, wrong);
    }

    private static async Task<int> RunAsync(Request request, TextWriter output, TextWriter error, CancellationToken stop)
    {
        // The agent's passwords are not needed to judge a recording; those of a store behind a network are.
        var read = request.Machines.Length == 0 ? (Func<string, LaserWatchOptions>)SharedOptions.ReadAsPerson : SharedOptions.Read;
        var b = read(request.Configs[^1]);
        var a = request.Configs.Length == 1
            ? LaserWatchOptions.Default.RelativeTo(Path.GetDirectoryName(Path.GetFullPath(request.Configs[0]))!) : read(request.Configs[0]);
        var channels = new ChannelTable();
        foreach (var (channel, unit) in a.DeclaredUnits().Concat(b.DeclaredUnits()).DistinctBy(pair => pair.Key))
            channels.Declare(channel, unit);

        var clock = Stopwatch.StartNew();
        var played = request.Cases.Length > 0
            ? CaseRehearsal.Play(request.Cases, a, b, channels, stop)
            : await PlayAsync(request, a, b, channels, error, stop).ConfigureAwait(false);
        var seconds = Math.Max(clock.Elapsed.TotalSeconds, 1e-9);
        await error.WriteLineAsync(FormattableString.Invariant(
            $"{played.Samples} sample(s) through both in {seconds:0.00} s: {played.Samples / seconds:0} a second")).ConfigureAwait(false);

        var judged = played.Annotations.Count > 0;
        var found = new ComparisonFound(
            request.Configs.Length == 1 ? "what holds without a file" : request.Configs[0], request.Configs[^1],
            Comparison.Of(played.AlarmsA, played.AlarmsB, request.Tolerance, played.Days, played.First, played.Last), OptionDifferences.Of(a, b))
        {
            Annotations = played.Annotations,
            ScoreA = judged ? AnnotationScore.Of(played.Annotations, played.AlarmsA, request.Tolerance) : null,
            ScoreB = judged ? AnnotationScore.Of(played.Annotations, played.AlarmsB, request.Tolerance) : null,
        };
        if (request.Shown.Json)
            ComparisonJson.Print(found, output);
        else
            ComparisonText.Print(found, request.Shown, output, output == Console.Out && !Console.IsOutputRedirected);
        if (request.Picture is { } picture)
            await picture.WriteAsync(new ComparisonPlot(found.Comparison, found.NameA, found.NameB) { Annotations = found.Annotations }, stop).ConfigureAwait(false);
        return (int)ExitCode.Done;
    }

    private static async Task<RehearsedPast> PlayAsync(
        Request request, LaserWatchOptions a, LaserWatchOptions b, ChannelTable channels, TextWriter error, CancellationToken stop)
    {
        RehearsedRules[] rules = [new(a), new(b)];
        await using var source = request.Machines.Length == 0
            ? await RehearsalSource.OfFilesAsync(request.Recordings, channels).ConfigureAwait(false)
            : await RehearsalSource.OfStoreAsync(
                StoreOf(request, request.Configs.Length == 1 ? b : a), request.Machines, request.From, request.To, channels, stop).ConfigureAwait(false);
        var run = new RehearsalRun(source.Readers, rules) { From = request.From, To = request.To };
        await PlayAsync(run, source, request, error, stop).ConfigureAwait(false);
        source.TellUnread(error);
        return new(
            rules[0].Alarms, rules[1].Alarms, run.Days, run.First, run.Last, run.Samples, await AnnotationsAsync(run, source, stop).ConfigureAwait(false));
    }

    // Of a store all annotations are known, also those whose span had begun before what was played.
    private static async Task<IReadOnlyList<Annotation>> AnnotationsAsync(RehearsalRun run, RehearsalSource source, CancellationToken stop)
    {
        var services = run.Services.Concat(await source.ServicesAsync(stop).ConfigureAwait(false)).GroupBy(s => s.Machine);
        return [.. services.SelectMany(log => AnnotationBook.Of(log).InForce).Where(a => a.To > run.First && a.From <= run.Last)];
    }

    private static StoreOptions StoreOf(Request request, LaserWatchOptions options) =>
        request.Store is { } file ? new StoreOptions { Path = file } : options.Store;

    private static async Task PlayAsync(RehearsalRun run, RehearsalSource source, Request request, TextWriter error, CancellationToken stop)
    {
        try
        {
            await ReplayProgress.ShowAsync("compare", source.Readers, progress => Task.Run(() => run.Play(progress, stop), stop), error).ConfigureAwait(false);
        }
        catch (OperationCanceledException)
        {
            throw new CommandException(ExitCode.FoundWanting, $"stopped after {run.Samples} samples; nothing is compared of half a past.");
        }
        catch (Exception e) when (e is IOException or InvalidDataException)
        {
            throw new CommandException(
                ExitCode.Unreachable, $"{string.Join(", ", request.Recordings)} ended early: {e.Message} Nothing is compared of half a past; mend that first.");
        }
    }
}
