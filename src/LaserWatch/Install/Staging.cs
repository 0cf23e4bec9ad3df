namespace LaserWatch.Install;

/// <summary>Where a final path stands while all is staged under a folder, as packages and images are made.</summary>
internal static class Staging
{
    public static string Place(string? root, string path) => root is null ? path : Path.Join(root, path.TrimStart('/'));
}
