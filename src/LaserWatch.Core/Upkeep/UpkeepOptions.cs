using System.ComponentModel.DataAnnotations;
using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

/// <summary>Work that comes round.</summary>
public sealed record UpkeepOptions
{
    /// <summary>What is due when. Default: nothing.</summary>
    public IReadOnlyList<ServiceInterval> Intervals { get; init; } = [];
}

/// <summary>Work at one part is due after so much beam or so long, whichever is first.</summary>
public sealed record ServiceInterval : IChecked
{
    /// <summary>The part as the service log names it, such as lens, mirror, nozzle, alignment.</summary>
    [Required]
    [StringLength(64, MinimumLength = 1)]
    public required string Part { get; init; }

    /// <summary>Only such work counts, such as cleaned or replaced; empty: any. Default empty.</summary>
    public IReadOnlyList<string> Actions { get; init; } = [];

    /// <summary>Beam-on hours from one such work to the next; null: not counted. Default null. Lower: due sooner.</summary>
    [Range(0.1, 100_000)]
    public double? BeamHours { get; init; }

    /// <summary>Days from one such work to the next, whatever was cut; null: not counted. Default null. Lower: due sooner.</summary>
    [Range(0.5, 3660)]
    public double? Days { get; init; }

    /// <summary>What is wrong with the interval as a whole, in words; empty where nothing is.</summary>
    public IEnumerable<string> Mistakes()
    {
        if (BeamHours is null && Days is null)
            yield return "this work would never be due: give 'beamHours' or 'days', or both";
    }
}
