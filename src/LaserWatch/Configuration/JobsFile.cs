using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>The file of proven cuts, <c>jobs.json</c>. It is the shop's own: it is read, and never written.</summary>
/// <remarks>Records added on the command line go to the store; writing them here would lose the comments.</remarks>
public static class JobsFile
{
    /// <summary>Reads and checks the file; the records stand in its order.</summary>
    public static ConfigurationRead<IReadOnlyList<JobRecord>> Read(string path)
    {
        var mistakes = new List<ConfigurationMistake>();
        var file = ConfigurationFile.ReadNodes(path, mistakes) is { } root ? new RecordReader(path, mistakes).Read<JobsOptions>(root) : null;
        return mistakes.Count == 0 ? new(path, [.. file!.Jobs.Select(job => job.ToRecord())], []) : new(path, null, [.. mistakes.OrderBy(m => m.Line)]);
    }
}

/// <summary>The proven cuts of the shop.</summary>
public sealed record JobsOptions : ICheckedOptions
{
    /// <summary>Where editors find the schema that completes and checks this file; the agent itself does not read it.</summary>
    [JsonPropertyName("$schema")]
    public string? Schema { get; init; }

    /// <summary>The records, in any order. Of several of one job, the newest is in force; older ones stay for the runs of their time.</summary>
    public IReadOnlyList<JobOptions> Jobs { get; init; } = [];

    public IEnumerable<OptionMistake> Mistakes()
    {
        var met = new Dictionary<(string, Instant), int>();
        for (var i = 0; i < Jobs.Count; i++)
        {
            if (!met.TryAdd((Jobs[i].Job, Jobs[i].RecordedAt), i))
                yield return new($"jobs[{i}]", $"the same job and time as jobs[{met[(Jobs[i].Job, Jobs[i].RecordedAt)]}]", "keep one of them, or give the newer its own 'recordedAt'");
        }
    }
}

/// <summary>The settings of one proven cut. What was not written down is left out, and is not judged.</summary>
public sealed record JobOptions
{
    /// <summary>Name of the job, as the job events carry it.</summary>
    [RegularExpression(@"^\S(.{0,98}\S)?$", ErrorMessage = "use 1 to 100 characters in one line, with no space at either end")]
    public required string Job { get; init; }

    /// <summary>Material and thickness, in words; null: not written down.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Material { get; init; }

    /// <summary>Laser power, % of full, as set at the controller; null: not written down.</summary>
    [Range(0.0, 100.0)]
    public double? Power { get; init; }

    /// <summary>Head speed, mm/s; null: not written down.</summary>
    [Range(0.01, 5000.0)]
    public double? Speed { get; init; }

    /// <summary>Air assist pressure at the hose to the nozzle while cutting, kPa (gauge): 1 bar is 100 kPa, 1 psi is 6.895 kPa; null: not written down, and low pressure is not judged.</summary>
    [Range(0.0, 1600.0)]
    public double? AirPressure { get; init; }

    /// <summary>Allowed fall below the recorded pressure, as a fraction of it; null: the rule's own. Higher: fewer alarms, and a weak jet goes longer unseen.</summary>
    [Range(0.01, 0.9)]
    public double? AirPressureTolerance { get; init; }

    /// <summary>Tube current at this power, mA, beam on and steady; null: not written down.</summary>
    [Range(0.0, 200.0)]
    public double? TubeCurrent { get; init; }

    /// <summary>How the head moves: <c>vector</c> follows lines, <c>raster</c> scans, with the beam on for a part of the time only.</summary>
    public CutMode Mode { get; init; } = CutMode.Vector;

    /// <summary>When the cut was proven: an RFC 3339 time, or a date alone, which is its midnight in UTC.</summary>
    public required Instant RecordedAt { get; init; }

    internal JobRecord ToRecord() => new(
        Job, RecordedAt, Material, Power is { } power ? new PowerPercent(power) : null, Speed,
        AirPressure is { } pressure ? new Kilopascals(pressure) : null, TubeCurrent is { } current ? new Milliamps(current) : null,
        Mode, AirPressureTolerance);
}
