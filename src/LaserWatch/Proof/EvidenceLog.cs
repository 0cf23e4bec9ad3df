using System.Text;

namespace LaserWatch.Proof;

/// <summary>A machine's log on disk: one JSON object a line, only ever appended to.</summary>
/// <remarks>
/// A line that was being written when the power failed has no line end: readers pass it over, and who writes next cuts it off. Any other
/// process may read meanwhile. Who writes holds <see cref="EvidenceFolder.Lock"/>.
/// </remarks>
public sealed class EvidenceLog
{
    private readonly string _path;
    private long _length;

    private EvidenceLog(string path, LogContent content, long length, long torn)
    {
        _path = path;
        Content = content;
        _length = length;
        TornBytes = torn;
    }

    public LogContent Content { get; }

    /// <summary>Bytes at the end that are no whole line.</summary>
    public long TornBytes { get; private set; }

    /// <summary>Reads the log; an empty one where there is none.</summary>
    /// <exception cref="EvidenceException">It cannot be read, or a line in it is not as it was written.</exception>
    public static EvidenceLog Read(EvidenceFolder folder, string machine)
    {
        var path = folder.LogFile(machine);
        var content = new LogContent(machine);
        var bytes = ReadAll(path);
        var start = 0;
        for (var number = 1; ; number++)
        {
            var length = bytes.AsSpan(start).IndexOf((byte)'\n');
            if (length < 0)
                break;
            if (content.Take(bytes.AsSpan(start, length)) is { } wrong)
            {
                throw new EvidenceException(
                    $"{path}, line {number}: {wrong}. The log has been altered; put it back from a backup, or move it away and a new one is begun, which later readers will see.");
            }

            start += length + 1;
        }

        return new EvidenceLog(path, content, start, bytes.Length - start);
    }

    /// <summary>Appends entries and the head over all; on the disk when it returns.</summary>
    /// <exception cref="EvidenceException">The log cannot be written.</exception>
    public void Append(IReadOnlyList<DayEntry> entries, SigningKey key, string at)
    {
        var lines = new StringBuilder();
        foreach (var entry in entries)
            Take(lines, LogJson.Write(entry));
        var size = Content.Entries.Count;
        Take(lines, LogJson.Write(LogHead.Sign(key, Content.Machine, size, Content.RootOf(size), at)));
        Write(lines);
    }

    /// <summary>Appends the token for the newest head.</summary>
    /// <exception cref="EvidenceException">The log cannot be written.</exception>
    public void AppendStamp(ReadOnlySpan<byte> token)
    {
        var lines = new StringBuilder();
        var head = Digest.Of(Encoding.UTF8.GetBytes(Content.Heads[^1].Line));
        Take(lines, LogJson.Write(new LogStamp(LogStamp.KindName, head, Convert.ToBase64String(token))));
        Write(lines);
    }

    /// <summary>Cuts off what is no whole line, where nothing was appended that did so.</summary>
    /// <exception cref="EvidenceException">The log cannot be written.</exception>
    public void CutTorn()
    {
        if (TornBytes > 0)
            Write(new StringBuilder());
    }

    private void Take(StringBuilder lines, string line)
    {
        if (Content.Take(Encoding.UTF8.GetBytes(line)) is { } wrong)
            throw new InvalidOperationException($"A line of the log {wrong}: {line}");
        lines.Append(line).Append('\n');
    }

    private void Write(StringBuilder lines)
    {
        try
        {
            using var file = OwnFiles.OpenOrCreate(_path, FileShare.Read | FileShare.Delete);
            if (file.Length > _length)
                file.SetLength(_length);
            file.Position = _length;
            var bytes = Encoding.UTF8.GetBytes(lines.ToString());
            file.Write(bytes);
            file.Flush(flushToDisk: true);
            _length += bytes.Length;
            TornBytes = 0;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new EvidenceException($"the log {_path} cannot be written ({e.Message.TrimEnd('.')}): free the disk, or give the agent's user the right to.", e);
        }
    }

    private static byte[] ReadAll(string path)
    {
        try
        {
            using var file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
            using var copy = new MemoryStream();
            file.CopyTo(copy);
            return copy.ToArray();
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
            return [];
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new EvidenceException($"the log {path} cannot be read ({e.Message.TrimEnd('.')}): give the user of this command the right to.", e);
        }
    }
}
