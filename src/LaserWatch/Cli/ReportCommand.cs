using System.CommandLine;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Proof;
using LaserWatch.Recordings;
using LaserWatch.Reports;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch report</c>: the evidence on one tube as a page to read, print and send.</summary>
public static class ReportCommand
{
    private sealed record Call(string Machine, string File, string? Pdf, string Paper, string? Browser, Instant From, Instant To, int? Tube);

    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine's name." };
        var file = new Option<string>("--out") { Description = "The page to write, .html. It appears only when it is whole.", HelpName = "FILE", Required = true };
        var pdf = new Option<string?>("--pdf") { Description = "Print it to this file too, by a Chromium that is on this machine.", HelpName = "FILE" };
        var paper = new Option<string>("--paper") { Description = "For --pdf: a4 or letter.", DefaultValueFactory = _ => "a4" };
        paper.AcceptOnlyFromAmong("a4", "letter");
        var browser = new Option<string?>("--browser") { Description = "For --pdf: the Chromium to take, instead of the first on the path.", HelpName = "FILE" };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var tube = new Option<int?>("--tube") { Description = "An earlier tube: 1 for the first that the store knows. Left out: the one that is in now.", HelpName = "N" };
        var config = SharedOptions.Config();
        var store = SharedOptions.Store();

        var command = new Command("report", "Writes the evidence on a tube as one self-contained page.") { machine, file, pdf, paper, browser, from, to, tube, config, store };
        SharedOptions.RefuseBoth(command, config, store);
        command.SetAction((parsed, stop) => RunAsync(
            new Call(
                parsed.GetRequiredValue(machine), parsed.GetRequiredValue(file), parsed.GetValue(pdf), parsed.GetRequiredValue(paper), parsed.GetValue(browser),
                parsed.GetValue(from) ?? Instant.MinValue, parsed.GetValue(to) ?? Instant.MaxValue, parsed.GetValue(tube)),
            parsed.GetValue(store) is { } path ? LaserWatchOptions.Default with { Store = new StoreOptions { Path = path } } : AgentConfiguration.Read(parsed.GetValue(config)),
            parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static async Task<int> RunAsync(Call call, LaserWatchOptions options, TextWriter error, CancellationToken stop)
    {
        if (call.From >= call.To)
            throw new CommandException(ExitCode.BadUsage, "--from must be before --to.");
        if (call.Pdf is { } same && Path.GetFullPath(same) == Path.GetFullPath(call.File))
            throw new CommandException(ExitCode.BadUsage, "--out and --pdf name the same file.");
        var (report, annex) = await GatherAsync(call, options, stop).ConfigureAwait(false);
        var page = Seal(report, annex, options.Store, error);
        try
        {
            await WholeFile.WriteAsync(
                call.File,
                async to =>
                {
                    await to.WriteAsync(Encoding.UTF8.GetBytes(page), stop).ConfigureAwait(false);
                    return page.Length;
                }).ConfigureAwait(false);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write the report {call.File}: {e.Message}");
        }

        await error.WriteLineAsync($"{call.File}: {report.Period?.Words ?? "no tube"}, {Rfc3339.Format(report.From)} to {Rfc3339.Format(report.To)}").ConfigureAwait(false);
        if (call.Pdf is { } pdf)
            await PrintAsync(call, page, pdf, error, stop).ConfigureAwait(false);
        return report.Conditions.First is null
            ? throw new CommandException(ExitCode.FoundWanting, $"the store has no sample of {call.Machine} in that time; the report says so. Widen --from and --to.")
            : (int)ExitCode.Done;
    }

    /// <summary>The page with annex and seal, where there is a log and the key may be read.</summary>
    private static string Seal(EvidenceReport report, ReportAnnex annex, StoreOptions store, TextWriter error)
    {
        if (annex.Lines.Length == 0)
        {
            error.WriteLine($"no day of {report.Machine} is sealed yet, so the page carries no proof; the agent seals each day an hour after its end");
            return HtmlReport.Print(report);
        }

        using var key = OpenKey(EvidenceFolder.Of(store), out var why);
        if (key is null)
            error.WriteLine($"the page is not signed: {why}");
        var page = DocumentSeal.WithAnnex(HtmlReport.Print(report with { Integrity = annex.Facts with { NotSigned = why } }), annex.Lines);
        return key is null ? page : DocumentSeal.Seal(page, report.Machine, Rfc3339.Format(report.MadeAt), key);
    }

    private static SigningKey? OpenKey(EvidenceFolder folder, out string? why)
    {
        why = null;
        try
        {
            if (File.Exists(folder.KeyFile))
                return SigningKey.Open(folder.KeyFile);
            why = "the key that signed the log is not there";
        }
        catch (EvidenceException fault)
        {
            why = fault.Message;
        }

        return null;
    }

    private static async Task<(EvidenceReport Report, ReportAnnex Annex)> GatherAsync(Call call, LaserWatchOptions options, CancellationToken stop)
    {
        try
        {
            var store = StoreAccess.ForReading(options.Store);
            await using (store.ConfigureAwait(false))
            {
                if (store.HoldsTraining)
                {
                    throw new CommandException(
                        ExitCode.FoundWanting, $"{options.Store.Path} holds training data: a report is evidence on a real tube, so none is written. trend and record show what is in it, marked as training.");
                }

                await StoreAccess.RequireMachineAsync(store, options.Store, call.Machine, stop).ConfigureAwait(false);
                var gathering = new EvidenceGathering(store, options, call.Machine, call.Tube);
                var now = Instant.From(TimeProvider.System.GetUtcNow());
                var report = await gathering.GatherAsync(call.From, call.To, now, stop).ConfigureAwait(false)
                    ?? throw new CommandException(
                        ExitCode.BadUsage, $"there is no tube {call.Tube} in {call.Machine}; the store knows: {string.Join("; ", gathering.Tubes.Select(known => known.Words))}.");
                var days = report.Current?.Days.Select(day => day.Day).ToList() ?? [];
                var annex = await ReportAnnex.GatherAsync(
                    store, EvidenceFolder.Of(options.Store), call.Machine, days, report.From, report.To, stop).ConfigureAwait(false);
                return (report, annex);
            }
        }
        catch (Exception e) when (e is StoreException or EvidenceException)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }
    }

    private static async Task PrintAsync(Call call, string page, string pdf, TextWriter error, CancellationToken stop)
    {
        var browser = call.Browser ?? PagePrinter.Find() ?? throw new CommandException(
            ExitCode.Unreachable, $"{call.File} is written, but {pdf} is not: no Chromium is on the path. Install one, name it by --browser, or print the page from any browser.");
        string? why;
        try
        {
            why = await PagePrinter.PrintAsync(browser, page, call.Paper == "a4" ? "A4" : "letter", pdf, stop).ConfigureAwait(false);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            why = e.Message;
        }

        if (why is not null)
            throw new CommandException(ExitCode.Unreachable, $"{call.File} is written, but {pdf} is not: {browser}: {why}. Print the page from any browser.");
        await error.WriteLineAsync($"{pdf}: printed by {browser}").ConfigureAwait(false);
    }
}
