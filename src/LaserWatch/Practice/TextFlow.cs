namespace LaserWatch.Practice;

/// <summary>Words into lines that are never wider than they may be.</summary>
internal static class TextFlow
{
    /// <param name="hanging">Indents every line but the first.</param>
    public static IEnumerable<string> Wrap(string text, int width, string first = "", string hanging = "")
    {
        var line = first;
        var isEmpty = true;
        foreach (var whole in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            var word = whole;
            if (!isEmpty && line.Length + 1 + word.Length > width)
            {
                yield return line;
                (line, isEmpty) = (hanging, true);
            }

            // A word that fits nowhere is broken: cut off is worse.
            while (line.Length + (isEmpty ? 0 : 1) + word.Length > width && width > hanging.Length)
            {
                var room = width - line.Length;
                yield return line + word[..room];
                word = word[room..];
                (line, isEmpty) = (hanging, true);
            }

            line += isEmpty ? word : " " + word;
            isEmpty = false;
        }

        if (!isEmpty || first.Length > 0)
            yield return line.TrimEnd();
    }

    /// <summary>What would move a terminal's cursor, from names and notes that others wrote, becomes a question mark.</summary>
    public static string Harmless(string text) =>
        text.Any(char.IsControl) ? new string([.. text.Select(c => char.IsControl(c) ? '?' : c)]) : text;
}
