using System.Text;

namespace LaserWatch.Reports;

/// <summary>Writes files that appear only when they are whole.</summary>
public static class WholeFile
{
    /// <exception cref="IOException">The file cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">The file may not be written.</exception>
    public static async Task WriteAsync(string path, string text, CancellationToken stop)
    {
        var whole = Path.GetFullPath(path);
        var unfinished = whole + ".unfinished";
        try
        {
            var file = new FileStream(unfinished, FileMode.Create, FileAccess.Write, FileShare.None, 1 << 16);
            await using (file.ConfigureAwait(false))
            {
                await file.WriteAsync(Encoding.UTF8.GetBytes(text), stop).ConfigureAwait(false);
                file.Flush(flushToDisk: true);
            }

            File.Move(unfinished, whole, overwrite: true);
        }
        catch
        {
            File.Delete(unfinished);
            throw;
        }
    }
}
