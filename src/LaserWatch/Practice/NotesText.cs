using System.Text.RegularExpressions;

namespace LaserWatch.Practice;

/// <summary>A case's notes, Markdown, as plain lines of a width: paragraphs flow, tables keep their columns and wrap the last.</summary>
/// <remarks>Reads headings, paragraphs, lists and tables; what else Markdown has is shown as it is written.</remarks>
internal static partial class NotesText
{
    private const int LeastLastColumn = 20;

    public static IReadOnlyList<string> Lines(string markdown, int width)
    {
        var lines = new List<string>();
        var paragraph = new List<string>();
        var table = new List<string[]>();
        foreach (var raw in markdown.Split('\n').Select(l => TextFlow.Harmless(l.TrimEnd().Replace('\t', ' '))).Append(""))
        {
            if (raw.StartsWith('|'))
            {
                FlowParagraph();
                if (!Rule().IsMatch(raw))
                    table.Add([.. raw.Trim('|').Split('|').Select(cell => Plain(cell.Trim()))]);
                continue;
            }

            FlowTable();
            if (raw.Length == 0)
            {
                FlowParagraph();
                if (lines.Count > 0 && lines[^1].Length > 0)
                    lines.Add("");
            }
            else if (raw.StartsWith('#'))
            {
                FlowParagraph();
                lines.AddRange(TextFlow.Wrap(Plain(raw.TrimStart('#').Trim()), width));
            }
            else if (Item().IsMatch(raw))
            {
                FlowParagraph();
                paragraph.Add(raw);
            }
            else
            {
                paragraph.Add(raw);
            }
        }

        while (lines.Count > 0 && lines[^1].Length == 0)
            lines.RemoveAt(lines.Count - 1);
        return lines;

        void FlowParagraph()
        {
            if (paragraph.Count == 0)
                return;
            var mark = Item().Match(paragraph[0]).Value;
            var text = Plain(string.Join(' ', paragraph)[mark.Length..].Trim());
            lines.AddRange(TextFlow.Wrap(text, width, mark, new string(' ', mark.Length)));
            paragraph.Clear();
        }

        void FlowTable()
        {
            if (table.Count > 0)
                lines.AddRange(Table(table, width));
            table.Clear();
        }
    }

    internal static IEnumerable<string> Table(IReadOnlyList<string[]> rows, int width)
    {
        var columns = rows.Max(r => r.Length);
        var widths = Enumerable.Range(0, columns).Select(c => rows.Max(r => c < r.Length ? r[c].Length : 0)).ToArray();
        var before = widths[..^1].Sum(w => w + 2);
        if (width - before < Math.Min(LeastLastColumn, widths[^1]))
        {
            // Too narrow for columns: a row becomes a paragraph.
            foreach (var row in rows)
            {
                foreach (var line in TextFlow.Wrap(string.Join("; ", row.Where(cell => cell.Length > 0)), width, "", "  "))
                    yield return line;
            }

            yield break;
        }

        foreach (var row in rows)
        {
            var start = string.Concat(row.Take(columns - 1).Select((cell, c) => cell.PadRight(widths[c] + 2)));
            foreach (var line in TextFlow.Wrap(row.Length == columns ? row[^1] : "", width, start, new string(' ', before)))
                yield return line;
        }
    }

    private static string Plain(string text) => Emphasis().Replace(text, "$2").Replace("`", "", StringComparison.Ordinal);

    // Stars that hold to a word; those that stand between spaces, or alone, are no emphasis.
    [GeneratedRegex(@"(\*{1,2})(?=\S)(.+?)(?<=\S)\1")]
    private static partial Regex Emphasis();

    [GeneratedRegex(@"^\s*([-*]|\d+\.)\s+")]
    private static partial Regex Item();

    [GeneratedRegex(@"^\|[\s:|-]+$")]
    private static partial Regex Rule();
}
