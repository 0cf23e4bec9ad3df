namespace LaserWatch.Practice.Screen;

/// <summary>A long text, and which part of it shows.</summary>
/// <param name="text">The lines for a width.</param>
/// <param name="fromTheEnd">Begins at its end: the newest is what one wants to read.</param>
public sealed class Pager(string title, Func<int, IReadOnlyList<string>> text, bool fromTheEnd = false)
{
    private int _top = fromTheEnd ? int.MaxValue : 0;
    private int _height = 1;
    private int _length;

    public string Title => title;

    public void Take(ConsoleKeyInfo key)
    {
        _top = Math.Clamp(key.Key switch
        {
            ConsoleKey.UpArrow => _top - 1,
            ConsoleKey.DownArrow => _top + 1,
            ConsoleKey.PageUp => _top - _height,
            ConsoleKey.PageDown => _top + _height,
            ConsoleKey.Home => 0,
            ConsoleKey.End => _length,
            _ => _top,
        }, 0, Math.Max(0, _length - _height));
    }

    /// <summary>Heading and the part that shows, exactly <paramref name="height"/> lines.</summary>
    public IReadOnlyList<ScreenLine> Lines(int width, int height)
    {
        var lines = text(width);
        (_length, _height) = (lines.Count, height - 1);
        _top = Math.Clamp(_top, 0, Math.Max(0, _length - _height));
        var last = Math.Min(_top + _height, _length);
        var place = _length <= _height ? "" : $"  (lines {_top + 1} to {last} of {_length})";
        return
        [
            new ScreenLine(title + place, LineLook.Heading),
            .. lines.Skip(_top).Take(_height).Select(l => new ScreenLine(l)),
            .. Enumerable.Repeat(new ScreenLine(""), _height - (last - _top)),
        ];
    }
}
