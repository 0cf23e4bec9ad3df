namespace LaserWatch.Proof;

/// <summary>Checks a file by what it is: a recording, or a report in HTML.</summary>
public static class FileVerifier
{
    private const int StartBytes = 64;

    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="InvalidDataException">Its compression is damaged, or it breaks off.</exception>
    public static VerificationReport Verify(string path, VerificationDemands demands) =>
        IsPage(path) ? ReportVerifier.Verify(File.ReadAllBytes(path), demands) : RecordingVerifier.Verify(() => Open(path), demands);

    /// <summary>The newest head of the log that the file carries; null where it has none.</summary>
    public static LogHead? HeadOf(string path) => IsPage(path) ? ReportVerifier.HeadOf(File.ReadAllBytes(path)) : RecordingVerifier.HeadOf(() => Open(path));

    private static bool IsPage(string path)
    {
        using var file = Open(path);
        var start = new byte[StartBytes];
        return ReportVerifier.IsPage(start.AsSpan(0, file.ReadAtLeast(start, StartBytes, throwOnEndOfStream: false)));
    }

    private static FileStream Open(string path) => new(path, new FileStreamOptions
    {
        Mode = FileMode.Open, Access = FileAccess.Read, Share = FileShare.ReadWrite | FileShare.Delete, BufferSize = 1 << 16, Options = FileOptions.SequentialScan,
    });
}
