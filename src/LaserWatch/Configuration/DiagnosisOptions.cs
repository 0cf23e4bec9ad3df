using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Configuration;

/// <summary>What <c>laserwatch diagnose</c> reasons with.</summary>
public sealed record DiagnosisOptions
{
    /// <summary>File of the shop's own causes, checks and their weights, relative to the configuration file's folder; null: the table that is built in, which is <c>config/causes.json</c>.</summary>
    [StringLength(1000, MinimumLength = 1)]
    public string? Causes { get; init; }
}
