using System.Buffers;
using System.Globalization;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>Writes lines of line protocol, one after another, into a buffer of its own.</summary>
/// <remarks>
/// Call in the order of a line: <see cref="Measurement"/>, tags, fields (at least one), <see cref="Time"/>. Numbers are the
/// shortest decimals that read back to the same bits. The format cannot hold a line break: in text each becomes a space.
/// </remarks>
public sealed class LineFormatter
{
    private static readonly SearchValues<char> LineBreaks = SearchValues.Create("\r\n");

    private readonly ArrayBufferWriter<byte> _bytes = new(4096);
    private bool _hasField;

    public ReadOnlySpan<byte> Written => _bytes.WrittenSpan;

    public ReadOnlyMemory<byte> WrittenMemory => _bytes.WrittenMemory;

    public void Clear()
    {
        _bytes.ResetWrittenCount();
        _hasField = false;
    }

    /// <summary>Forgets the bytes that were taken elsewhere; a line under way goes on.</summary>
    public void ForgetWritten() => _bytes.ResetWrittenCount();

    public LineFormatter Measurement(string name)
    {
        Escaped(name, ", ");
        _hasField = false;
        return this;
    }

    /// <remarks>A tag cannot end in a backslash (it would escape what follows): those at the end are left out.</remarks>
    public LineFormatter Tag(string key, string value)
    {
        Byte(',');
        Escaped(key, ", =");
        Byte('=');
        Escaped(value.TrimEnd('\\'), ", =");
        return this;
    }

    /// <exception cref="ArgumentOutOfRangeException">The value is NaN or infinite, which the format cannot hold.</exception>
    public LineFormatter Field(string key, double value)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(nameof(value), value, $"The field '{key}' must be finite.");
        Key(key);
        Number(value);
        return this;
    }

    public LineFormatter Field(string key, bool value)
    {
        Key(key);
        _bytes.Write(value ? "true"u8 : "false"u8);
        return this;
    }

    public LineFormatter Field(string key, string value)
    {
        Key(key);
        Byte('"');
        Escaped(value, "\\\"");
        Byte('"');
        return this;
    }

    /// <summary>Ends the line.</summary>
    public void Time(Instant at)
    {
        Byte(' ');
        var space = _bytes.GetSpan(20);
        at.UnixNanoseconds.TryFormat(space, out var length, default, CultureInfo.InvariantCulture);
        _bytes.Advance(length);
        Byte('\n');
        _hasField = false;
    }

    private void Key(string key)
    {
        Byte(_hasField ? ',' : ' ');
        _hasField = true;
        Escaped(key, ", =");
        Byte('=');
    }

    private void Number(double value)
    {
        var space = _bytes.GetSpan(32);
        value.TryFormat(space, out var length, default, CultureInfo.InvariantCulture);
        _bytes.Advance(length);
    }

    private void Escaped(string text, string escapable)
    {
        if (text.AsSpan().ContainsAny(LineBreaks))
            text = text.Replace("\r\n", " ").Replace('\r', ' ').Replace('\n', ' ');
        if (text.AsSpan().IndexOfAny(escapable) < 0)
        {
            Encoding.UTF8.GetBytes(text, _bytes);
            return;
        }

        foreach (var rune in text.EnumerateRunes())
        {
            if (rune.IsAscii && escapable.Contains((char)rune.Value))
                Byte('\\');
            var space = _bytes.GetSpan(4);
            _bytes.Advance(rune.EncodeToUtf8(space));
        }
    }

    private void Byte(char ascii)
    {
        _bytes.GetSpan(1)[0] = (byte)ascii;
        _bytes.Advance(1);
    }
}
