namespace LaserWatch.Practice;

/// <summary>The file that keeps what came of each practice, a JSON object a line.</summary>
public sealed class ResultsLog : IDisposable
{
    private readonly FileStream _file;

    private ResultsLog(FileStream file) => _file = file;

    /// <summary>Where it lies when nobody says: in the user's own data folder; null where the user has none.</summary>
    public static string? DefaultPath
    {
        get
        {
            var data = Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.DoNotVerify);
            return data.Length == 0 ? null : Path.Combine(data, "laserwatch", "practice.ndjson");
        }
    }

    /// <summary>Opens it before the practice begins, so that no result is lost at its end.</summary>
    /// <exception cref="IOException">It cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">It may not be written.</exception>
    public static ResultsLog Open(string path)
    {
        if (Path.GetDirectoryName(Path.GetFullPath(path)) is { } folder)
            Directory.CreateDirectory(folder);
        return new ResultsLog(new FileStream(path, FileMode.Append, FileAccess.Write, FileShare.ReadWrite));
    }

    /// <summary>Adds a line, in one write: several may practise at once.</summary>
    /// <exception cref="IOException">It cannot be written.</exception>
    public void Add(byte[] line)
    {
        _file.Write(line);
        _file.Flush(flushToDisk: true);
    }

    public void Dispose() => _file.Dispose();
}
