namespace LaserWatch.Evaluation.OpenData;

/// <summary>The open data sets, beside the repository and never in it: their licences differ.</summary>
internal static class DataFolder
{
    /// <summary>The folder <c>../shared/data</c> seen from the repository's root; null where it is not there.</summary>
    public static string? Find()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (!File.Exists(Path.Combine(folder.FullName, "LaserWatch.sln")))
                continue;
            var data = Path.GetFullPath(Path.Combine(folder.FullName, "..", "shared", "data"));
            return Directory.Exists(data) ? data : null;
        }

        return null;
    }
}
