namespace LaserWatch.Reports;

/// <summary>How the cells of a column are set.</summary>
internal enum Cells
{
    /// <summary>A name: the row's heading.</summary>
    Heading,

    /// <summary>Words that may be long.</summary>
    Words,

    /// <summary>Figures, to the right.</summary>
    Figures,

    /// <summary>A date or time: never broken.</summary>
    Time,
}

/// <summary>The text of one cell; <paramref name="Outside"/> where it tells of something outside its limit.</summary>
internal readonly record struct Cell(string Text, bool Outside = false)
{
    public static implicit operator Cell(string text) => new(text);
}

/// <summary>A table with its caption, that scrolls by itself where a screen is narrower than it.</summary>
internal sealed class ReportTable(string id, string caption, params (string Name, Cells Kind)[] columns)
{
    private readonly List<Cell[]> _rows = [];

    public int Rows => _rows.Count;

    /// <param name="cells">One a column.</param>
    public ReportTable Add(params Cell[] cells)
    {
        _rows.Add(cells);
        return this;
    }

    public void Print(Markup page)
    {
        page.Open("div", ("class", "table"), ("role", "region"), ("aria-labelledby", id), ("tabindex", "0"));
        page.Open("table").Element("caption", caption, ("id", id)).Open("thead").Open("tr");
        foreach (var (name, kind) in columns)
            page.Element("th", name, ("scope", "col"), ("class", kind == Cells.Figures ? "n" : null));
        page.Close().Close().Line().Open("tbody").Line();
        foreach (var cells in _rows)
        {
            page.Open("tr");
            for (var i = 0; i < columns.Length; i++)
            {
                var css = Css(columns[i].Kind, cells[i].Outside);
                if (columns[i].Kind == Cells.Heading)
                    page.Element("th", cells[i].Text, ("scope", "row"), ("class", css));
                else
                    page.Element("td", cells[i].Text, ("class", css));
            }

            page.CloseLine();
        }

        page.Close().Close().CloseLine();
    }

    /// <summary>Facts by name, two columns without a head.</summary>
    public static void PrintFacts(Markup page, string id, string caption, IEnumerable<(string Name, string Fact)> facts)
    {
        page.Open("div", ("class", "table facts")).Open("table").Element("caption", caption, ("id", id)).Open("tbody").Line();
        foreach (var (name, fact) in facts)
            page.Open("tr").Element("th", name, ("scope", "row")).Element("td", fact).CloseLine();
        page.Close().Close().CloseLine();
    }

    private static string? Css(Cells kind, bool outside)
    {
        var css = kind switch { Cells.Figures => "n", Cells.Time => "d", Cells.Words => "w", _ => null };
        return outside ? $"{css} out".Trim() : css;
    }
}
