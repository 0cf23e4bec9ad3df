using Spectre.Console;

namespace LaserWatch.Cli;

/// <summary>A small table: drawn on a terminal, columns of plain text elsewhere.</summary>
/// <remarks>Columns whose cells are all numbers are set flush right.</remarks>
public sealed class Listing(params string[] columns)
{
    private readonly List<string[]> _rows = [];

    public bool IsEmpty => _rows.Count == 0;

    public Listing Row(params string[] cells)
    {
        if (cells.Length != columns.Length)
            throw new ArgumentException($"A row has {cells.Length} cells; the listing has {columns.Length} columns.", nameof(cells));
        _rows.Add(cells);
        return this;
    }

    /// <param name="terminal">True where the text goes to a terminal, and can be drawn.</param>
    public void Print(TextWriter output, bool terminal)
    {
        if (terminal)
            Draw(output);
        else
            Write(output);
    }

    private void Draw(TextWriter output)
    {
        var table = new Table().Border(TableBorder.Rounded);
        for (var i = 0; i < columns.Length; i++)
        {
            var column = new TableColumn(Markup.Escape(columns[i]));
            table.AddColumn(IsNumeric(i) ? column.RightAligned() : column);
        }

        foreach (var row in _rows)
            table.AddRow(row.Select(Markup.Escape).ToArray());
        AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(output) }).Write(table);
    }

    private void Write(TextWriter output)
    {
        var widths = columns.Select((name, i) => Math.Max(name.Length, _rows.Select(r => r[i].Length).DefaultIfEmpty().Max())).ToArray();
        var right = columns.Select((_, i) => IsNumeric(i)).ToArray();
        foreach (var row in _rows.Prepend(columns))
        {
            var cells = row.Select((cell, i) => right[i] ? cell.PadLeft(widths[i]) : cell.PadRight(widths[i]));
            output.WriteLine(string.Join("  ", cells).TrimEnd());
        }
    }

    private bool IsNumeric(int column) =>
        _rows.Count > 0 && _rows.All(r => r[column].Length > 0 && r[column].All(c => char.IsAsciiDigit(c) || c is '.' or ',' or '-' or '%' or ' '));
}
