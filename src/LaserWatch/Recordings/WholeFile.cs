using System.IO.Compression;

namespace LaserWatch.Recordings;

/// <summary>A file that appears only when it is whole; one that is there already stays until then.</summary>
public static class WholeFile
{
    /// <summary>Writes the file; packed by gzip where its name ends in <c>.gz</c>.</summary>
    /// <exception cref="IOException">The file cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">The file may not be written.</exception>
    public static async Task<T> WriteAsync<T>(string path, Func<Stream, Task<T>> write)
    {
        var whole = Path.GetFullPath(path);
        var unfinished = whole + ".unfinished";
        try
        {
            T outcome;
            var file = new FileStream(unfinished, FileMode.Create, FileAccess.ReadWrite, FileShare.None, 1 << 16);
            await using (file.ConfigureAwait(false))
            {
                if (whole.EndsWith(".gz", StringComparison.OrdinalIgnoreCase))
                {
                    var gzip = new GZipStream(file, CompressionLevel.Optimal, leaveOpen: true);
                    await using (gzip.ConfigureAwait(false))
                        outcome = await write(gzip).ConfigureAwait(false);
                }
                else
                {
                    outcome = await write(file).ConfigureAwait(false);
                }

                file.Flush(flushToDisk: true);
            }

            File.Move(unfinished, whole, overwrite: true);
            return outcome;
        }
        catch
        {
            File.Delete(unfinished);
            throw;
        }
    }
}
