namespace LaserWatch;

/// <summary>Where the open data sets lie: tests/LaserWatch.Evaluation/OpenData/README.md says what they are and how to get them.</summary>
/// <remarks>They are never in the repository: their licences differ.</remarks>
internal static class OpenDataFolder
{
    public const string Variable = "LASERWATCH_DATA";

    /// <summary>Why nothing is judged by them, in words.</summary>
    public const string Missing = $"the open data are not there: {Variable} names no folder that exists, and there is none called shared/data beside the checkout (tests/LaserWatch.Evaluation/OpenData/README.md says what they are)";

    /// <summary>The folder that LASERWATCH_DATA names; where it is not set, <c>shared/data</c> beside the checkout. Null where there is none.</summary>
    public static string? Find()
    {
        var folder = Environment.GetEnvironmentVariable(Variable) is { Length: > 0 } named ? named : BesideTheCheckout();
        return folder is not null && Directory.Exists(folder) ? Path.GetFullPath(folder) : null;
    }

    private static string? BesideTheCheckout()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "LaserWatch.sln")))
                return Path.Combine(folder.FullName, "..", "shared", "data");
        }

        return null;
    }
}
