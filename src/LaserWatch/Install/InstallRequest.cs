namespace LaserWatch.Install;

/// <summary>What somebody asked <c>laserwatch install</c> for.</summary>
/// <param name="Program">The executable to install.</param>
/// <param name="Layout">Where to.</param>
public sealed record InstallRequest(string Program, InstallLayout Layout)
{
    /// <summary>Stage all under a folder, and leave the machine itself alone.</summary>
    public bool IsStaged { get; init; }

    public bool Start { get; init; } = true;

    /// <summary>A configuration to take over; null: the one that is there, else the example.</summary>
    public TakenConfiguration? Configuration { get; init; }
}
