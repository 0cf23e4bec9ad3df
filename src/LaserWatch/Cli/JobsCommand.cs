using System.Buffers;
using System.CommandLine;
using System.Globalization;
using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch jobs</c>: the records of proven cuts, from the jobs file and from the store.</summary>
/// <remarks>
/// What is added here goes to the store; a running agent looks there every ten seconds. The jobs file is the shop's own and
/// is never written.
/// </remarks>
public static class JobsCommand
{
    public static Command Create()
    {
        var command = new Command("jobs", "The records of proven cuts: lists, adds and imports them.");
        command.Subcommands.Add(List());
        command.Subcommands.Add(Add());
        command.Subcommands.Add(Import());
        return command;
    }

    private static Command List()
    {
        var all = new Option<bool>("--all") { Description = "Older records too, not only the one in force of each job." };
        var format = new Option<string>("--format") { Description = "table or json (one object a line).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var command = new Command("list", "Lists the records in force.") { all, format, config };
        command.SetAction((parsed, stop) => ListAsync(
            parsed.GetValue(config), parsed.GetValue(all), parsed.GetValue(format) == "json", parsed.InvocationConfiguration.Output,
            parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static Command Add()
    {
        var job = new Argument<string>("JOB") { Description = "The job's name, as its job events give it." };
        var material = new Option<string?>("--material") { Description = "What is cut, such as \"birch plywood 6 mm\".", HelpName = "TEXT" };
        var power = Number("--power", "Laser power, %.", 0, 100);
        var speed = Number("--speed", "Head speed, mm/s.", 0, 10_000);
        var air = Number("--air-pressure", "Air assist at the hose to the nozzle, kPa gauge (1 bar = 100).", 0, 2000);
        var current = Number("--tube-current", "Tube current, mA.", 0, 200);
        var tolerance = Number("--tolerance", "How far the pressure may fall, as a fraction of it; without it the rule's own.", 0.01, 0.9);
        var mode = new Option<string>("--mode") { Description = "vector or raster.", DefaultValueFactory = _ => "vector" };
        mode.AcceptOnlyFromAmong("vector", "raster");
        var at = SharedOptions.Time("--recorded", "When the cut was proven; without it, now.");
        var config = SharedOptions.Config();
        var command = new Command("add", "Adds a record: the settings of a cut that came out well.")
        {
            job, material, power, speed, air, current, tolerance, mode, at, config,
        };
        command.SetAction((parsed, stop) =>
        {
            var name = parsed.GetRequiredValue(job).Trim();
            if (name.Length is 0 or > 100 || name.Any(char.IsControl))
                throw new CommandException(ExitCode.BadUsage, "a job's name has 1 to 100 characters in one line.");
            var record = new JobRecord(
                name, parsed.GetValue(at) ?? Instant.From(TimeProvider.System.GetUtcNow()), parsed.GetValue(material),
                parsed.GetValue(power) is { } percent ? new PowerPercent(percent) : null, parsed.GetValue(speed),
                parsed.GetValue(air) is { } pressure ? new Kilopascals(pressure) : null,
                parsed.GetValue(current) is { } milliamps ? new Milliamps(milliamps) : null,
                parsed.GetValue(mode) == "raster" ? CutMode.Raster : CutMode.Vector, parsed.GetValue(tolerance));
            if (record is { Power: null, SpeedMmPerS: null, AirPressure: null, TubeCurrent: null })
                throw new CommandException(ExitCode.BadUsage, "a record without any setting says nothing: give at least --air-pressure or --tube-current.");
            return KeepAsync(parsed.GetValue(config), [record], parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private static Command Import()
    {
        var file = new Argument<string>("FILE") { Description = "A jobs file (.json), or a recording (.lp, .lp.gz) whose job records are taken." };
        var config = SharedOptions.Config();
        var command = new Command("import", "Adds the records of a file.") { file, config };
        command.SetAction((parsed, stop) =>
        {
            var path = parsed.GetRequiredValue(file);
            var records = path.EndsWith(".lp", StringComparison.Ordinal) || path.EndsWith(".lp.gz", StringComparison.Ordinal)
                ? FromRecording(path)
                : FromJobsFile(path);
            return records.Count == 0
                ? throw new CommandException(ExitCode.FoundWanting, $"{path} holds no job record.")
                : KeepAsync(parsed.GetValue(config), records, parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private static async Task<int> ListAsync(
        string? config, bool all, bool json, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(config);
        var records = new List<(JobRecord Record, string Source)>(options.JobRecords.Select(r => (r, "file")));
        if (File.Exists(options.Store.Path))
        {
            await using var store = StoreAccess.ForReading(options.Store);
            var known = options.JobRecords.ToHashSet();
            records.AddRange((await store.ReadJobRecordsAsync(stop)).Where(r => !known.Contains(r)).Select(r => (r, "store")));
        }

        var shown = records.GroupBy(r => r.Record.Job, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)
            .SelectMany(g => g.OrderByDescending(r => r.Record.RecordedAt).Take(all ? int.MaxValue : 1));
        if (json)
        {
            foreach (var (record, _) in shown)
                output.WriteLine(Json(record));
            return (int)ExitCode.Done;
        }

        var listing = new Listing("job", "recorded", "power %", "speed mm/s", "air kPa", "tube mA", "tolerance", "mode", "from", "material");
        foreach (var (r, source) in shown)
        {
            listing.Row(
                r.Job, r.RecordedAt.ToString(), Text(r.Power?.Value), Text(r.SpeedMmPerS), Text(r.AirPressure?.Value), Text(r.TubeCurrent?.Value),
                Text(r.AirPressureTolerance), r.Mode == CutMode.Raster ? "raster" : "vector", source, r.Material ?? "");
        }

        if (listing.IsEmpty)
            await error.WriteLineAsync("No job records: add one with 'laserwatch jobs add', or write them into the jobs file.");
        else
            listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
        return (int)ExitCode.Done;
    }

    private static async Task<int> KeepAsync(string? config, IReadOnlyList<JobRecord> records, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(config);
        await using var store = StoreAccess.ForWriting(options.Store);
        var batch = new StoreBatch();
        batch.JobRecords.AddRange(records);
        try
        {
            await store.AppendAsync(batch, stop);
        }
        catch (Exception fault) when (fault is StoreException or System.Data.Common.DbException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write to the store {options.Store.Path}: {fault.Message}");
        }

        await error.WriteLineAsync($"{records.Count} {(records.Count == 1 ? "record" : "records")} added; a running agent takes them up within ten seconds.");
        return (int)ExitCode.Done;
    }

    private static IReadOnlyList<JobRecord> FromJobsFile(string path)
    {
        var read = JobsFile.Read(path);
        return read.Value ?? throw new CommandException(ExitCode.BadUsage, string.Join("\nlaserwatch: ", read.Mistakes));
    }

    private static List<JobRecord> FromRecording(string path)
    {
        var records = new List<JobRecord>();
        try
        {
            using var reader = RecordingReader.Open(path, new ChannelTable());
            while (reader.Read() is { } e)
            {
                if (e.JobRecord is not null)
                    records.Add(e.JobRecord);
            }

            return records;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidDataException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording {path}: {e.Message}");
        }
    }

    private static Option<double?> Number(string name, string description, double least, double most)
    {
        var option = new Option<double?>(name) { Description = description, HelpName = "N" };
        option.Validators.Add(result =>
        {
            if (result.GetValueOrDefault<double?>() is { } value && !(value >= least && value <= most))
                result.AddError(string.Create(CultureInfo.InvariantCulture, $"{name} must be {least} to {most}."));
        });
        return option;
    }

    private static string Text(double? value) => value?.ToString("0.###", CultureInfo.InvariantCulture) ?? "";

    // The keys of the jobs file, so that the output can be put into one.
    private static string Json(JobRecord record)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes))
        {
            json.WriteStartObject();
            json.WriteString("job", record.Job);
            json.WriteString("recordedAt", record.RecordedAt.ToString());
            if (record.Material is not null)
                json.WriteString("material", record.Material);
            WriteNumber(json, "power", record.Power?.Value);
            WriteNumber(json, "speed", record.SpeedMmPerS);
            WriteNumber(json, "airPressure", record.AirPressure?.Value);
            WriteNumber(json, "tubeCurrent", record.TubeCurrent?.Value);
            WriteNumber(json, "airPressureTolerance", record.AirPressureTolerance);
            json.WriteString("mode", record.Mode == CutMode.Raster ? "raster" : "vector");
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(bytes.WrittenSpan);
    }

    private static void WriteNumber(Utf8JsonWriter json, string name, double? value)
    {
        if (value is { } number)
            json.WriteNumber(name, number);
    }
}
