using LaserWatch.Jobs;

namespace LaserWatch.Evaluation.Simulation;

/// <summary>One of the jobs that a shop cuts.</summary>
/// <param name="PowerPercent">Commanded power.</param>
/// <param name="Kilopascals">Air at the sensor at the proven cut; 0: without air.</param>
/// <param name="Minutes">Median length of a run.</param>
/// <param name="Share">How often it is cut, beside the others.</param>
internal sealed record PlannedJob(string Name, CutMode Mode, double PowerPercent, double Kilopascals, double Minutes, double Share)
{
    /// <summary>Median length of a cut between two moves, s (vector), or of a line (raster).</summary>
    public double CutSeconds { get; init; } = Mode == CutMode.Raster ? 2.2 : 9;

    /// <summary>Mean time between cuts, s.</summary>
    public double MoveSeconds { get; init; } = Mode == CutMode.Raster ? 0.25 : 1.2;

    /// <summary>Share of the samples in corners, where the controller lowers the power with the speed.</summary>
    public double CornerShare { get; init; } = 0.12;

    public static PlannedJob Vector(string name, double power, double kilopascals, double minutes = 12, double share = 1) =>
        new(name, CutMode.Vector, power, kilopascals, minutes, share);

    public static PlannedJob Raster(string name, double power, double kilopascals, double minutes = 35, double share = 1) =>
        new(name, CutMode.Raster, power, kilopascals, minutes, share);
}
