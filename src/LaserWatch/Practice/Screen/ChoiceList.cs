namespace LaserWatch.Practice.Screen;

/// <summary>A list to choose from by arrows, or by typing a part of a word.</summary>
public sealed class ChoiceList(string title, IReadOnlyList<(string Id, string Words)> all)
{
    private const int Page = 10;
    private const int LongestTyped = 30;

    private int _at;

    public string Title => title;

    public string Typed { get; private set; } = "";

    public IReadOnlyList<(string Id, string Words)> Shown =>
        [.. all.Where(c => c.Id.Contains(Typed, StringComparison.OrdinalIgnoreCase) || c.Words.Contains(Typed, StringComparison.OrdinalIgnoreCase))];

    public string? Chosen => Shown is { Count: > 0 } shown ? shown[_at].Id : null;

    public int At => _at;

    /// <summary>Moves or narrows; keys that mean nothing here are passed over.</summary>
    public void Take(ConsoleKeyInfo key)
    {
        switch (key.Key)
        {
            case ConsoleKey.UpArrow:
                Move(-1);
                break;
            case ConsoleKey.DownArrow:
                Move(1);
                break;
            case ConsoleKey.PageUp:
                Move(-Page);
                break;
            case ConsoleKey.PageDown:
                Move(Page);
                break;
            case ConsoleKey.Backspace:
                Typed = Typed.Length == 0 ? "" : Typed[..^1];
                _at = 0;
                break;
            default:
                if (!char.IsControl(key.KeyChar) && Typed.Length < LongestTyped)
                {
                    Typed += key.KeyChar;
                    _at = 0;
                }

                break;
        }
    }

    private void Move(int by) => _at = Math.Clamp(_at + by, 0, Math.Max(0, Shown.Count - 1));
}
