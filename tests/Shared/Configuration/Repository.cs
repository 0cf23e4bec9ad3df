namespace LaserWatch.Configuration;

/// <summary>The folder the solution stands in, for tests that read files of the repository.</summary>
internal static class Repository
{
    public static readonly string Folder = Find();

    private static string Find()
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(Path.Combine(folder, "LaserWatch.sln")))
            folder = Path.GetDirectoryName(folder) ?? throw new InvalidOperationException("The tests do not run from within the repository.");
        return folder;
    }
}
