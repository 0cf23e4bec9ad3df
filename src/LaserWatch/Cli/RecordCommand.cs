using System.CommandLine;
using LaserWatch.Alarms;
using LaserWatch.Exports;
using LaserWatch.Proof;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch record</c>: a machine's time from the store as a recording, or as tables for other programs.</summary>
public static class RecordCommand
{
    private const string LineProtocol = "lp", Csv = "csv", Parquet = "parquet";

    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine's name." };
        var file = new Option<string>("--out")
        {
            Description = "The file to write: a recording, .lp or packed .lp.gz, which can be replayed; or tables, .csv, .csv.gz or .parquet. It appears only when it is whole.",
            HelpName = "FILE",
            Required = true,
        };
        var format = new Option<string?>("--format") { Description = "lp, csv or parquet, where the file's name does not say it." };
        format.AcceptOnlyFromAmong(LineProtocol, Csv, Parquet);
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var config = SharedOptions.Config();
        var store = SharedOptions.Store();
        var noProof = new Option<bool>("--no-proof") { Description = "Leaves the proof of integrity out of a recording." };

        var command = new Command("record", "Writes a recording from the store, or tables for a spreadsheet or for analysis elsewhere.")
        {
            machine, file, format, from, to, config, store, noProof,
        };
        SharedOptions.RefuseBoth(command, config, store);
        command.SetAction((parsed, stop) =>
        {
            var options = SharedOptions.StoreOf(parsed.GetValue(config), parsed.GetValue(store));
            var path = parsed.GetRequiredValue(file);
            var request = new Request(
                parsed.GetRequiredValue(machine), path, parsed.GetValue(format) ?? FormatOf(path), parsed.GetValue(from) ?? Instant.MinValue,
                parsed.GetValue(to) ?? Instant.MaxValue,
                parsed.GetValue(noProof) ? null : EvidenceFolder.Of(options));
            return RunAsync(request, options, parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private sealed record Request(string Machine, string File, string Format, Instant From, Instant To, EvidenceFolder? Evidence);

    private static string FormatOf(string file)
    {
        var plain = file.EndsWith(".gz", StringComparison.OrdinalIgnoreCase) ? file[..^3] : file;
        return Path.GetExtension(plain).ToLowerInvariant() switch
        {
            ".csv" => Csv,
            ".parquet" => Parquet,
            _ => LineProtocol,
        };
    }

    private static async Task<int> RunAsync(Request request, StoreOptions options, TextWriter error, CancellationToken stop)
    {
        if (request.From >= request.To)
            throw new CommandException(ExitCode.BadUsage, "--from must be before --to.");
        if (request.Format == Parquet && request.File.EndsWith(".gz", StringComparison.OrdinalIgnoreCase))
            throw new CommandException(ExitCode.BadUsage, "Parquet is packed within itself: leave .gz away.");
        try
        {
            await using var store = StoreAccess.ForReading(options);
            await StoreAccess.RequireMachineAsync(store, options, request.Machine, stop).ConfigureAwait(false);
            await StoreAccess.TellTrainingAsync(store, options, error).ConfigureAwait(false);
            if (store.HoldsTraining)
                request = request with { Evidence = null };
            if (store.HoldsTraining && request.Format != LineProtocol)
                throw new CommandException(ExitCode.FoundWanting, $"{options.Path} holds training data, and tables cannot carry the mark of it: take a recording, .lp or .lp.gz.");
            var isEmpty = request.Format == LineProtocol
                ? await WriteRecordingAsync(store, request, error, stop).ConfigureAwait(false)
                : await WriteTablesAsync(store, request, error, stop).ConfigureAwait(false);
            if (isEmpty)
                throw new CommandException(ExitCode.FoundWanting, $"the store has nothing of {request.Machine} in that time; widen --from and --to.");
            return (int)ExitCode.Done;
        }
        catch (Exception e) when (e is StoreException or EvidenceException)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write {request.File}: {e.Message}");
        }
    }

    private static async Task<bool> WriteRecordingAsync(ITelemetryStore store, Request request, TextWriter error, CancellationToken stop)
    {
        var extent = await RecordingWriter.WriteFileAsync(store, request.Machine, request.From, request.To, request.File, request.Evidence, stop).ConfigureAwait(false);
        var span = extent.First is { } first && extent.Last is { } last ? $" from {Rfc3339.Format(first)} to {Rfc3339.Format(last)}" : "";
        await error.WriteLineAsync(
            $"{request.File}: {extent.Samples} sample(s){span}, {extent.JobRuns} job run event(s), {extent.JobRecords} job record(s), " +
            $"{extent.ServiceEvents} service event(s), {extent.Alarms} alarm transition(s)").ConfigureAwait(false);
        await TellProofAsync(extent.Proof, request, error).ConfigureAwait(false);
        return extent.IsEmpty;
    }

    private static async Task TellProofAsync(ProofExtent proof, Request request, TextWriter error)
    {
        if (proof.Days > 0)
            await error.WriteLineAsync($"with the proof of {proof.Days} sealed day(s): see laserwatch verify {request.File}").ConfigureAwait(false);
        else if (request.Evidence is not null)
            await error.WriteLineAsync("without a proof of integrity: no day of that time is sealed yet").ConfigureAwait(false);
        foreach (var day in proof.Differing)
            await error.WriteLineAsync($"laserwatch: {day:yyyy-MM-dd} is no longer as it was sealed, so verify will fail: late samples are sealed within the hour; anything else was altered in the store").ConfigureAwait(false);
    }

    private static async Task<bool> WriteTablesAsync(ITelemetryStore store, Request request, TextWriter error, CancellationToken stop)
    {
        var extent = await ExportFile.WriteAsync(
            store, request.Machine, request.From, request.To, request.File, request.Format == Parquet, stop).ConfigureAwait(false);
        await error.WriteLineAsync($"{request.File}: {extent.Rows} row(s) of {extent.Columns} channel(s)").ConfigureAwait(false);
        await error.WriteLineAsync($"{extent.EventsFile}: {extent.Events} run, service, alarm and job record row(s)").ConfigureAwait(false);
        if (request.Format == Csv && extent.Rows >= CsvExport.SpreadsheetRows)
        {
            await error.WriteLineAsync(
                $"more rows than a spreadsheet takes ({CsvExport.SpreadsheetRows}): narrow --from and --to, or take --format parquet").ConfigureAwait(false);
        }

        return extent.Rows == 0 && extent.Events == 0;
    }
}
