using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;

namespace LaserWatch.Statistics;

/// <summary>A table of published values in the folder Published; each row says in its last columns where it comes from.</summary>
internal sealed class PublishedTable
{
    private readonly List<string> _names;
    private readonly List<List<string>> _rows;

    private PublishedTable(IEnumerable<string> lines)
    {
        var all = lines.Where(line => line.Length > 0).Select(Split).ToList();
        _names = all[0];
        _rows = all[1..];
    }

    public static PublishedTable Read(string name, [CallerFilePath] string here = "") =>
        new(File.ReadLines(Path.Combine(Path.GetDirectoryName(here)!, "Published", name)));

    public IEnumerable<Row> Rows => _rows.Select(row => new Row(this, row));

    private static List<string> Split(string line)
    {
        var fields = new List<string>();
        var field = new StringBuilder();
        var quoted = false;
        foreach (var letter in line)
            if (letter == '"')
                quoted = !quoted;
            else if (letter == ',' && !quoted)
            {
                fields.Add(field.ToString());
                field.Clear();
            }
            else
                field.Append(letter);

        fields.Add(field.ToString());
        return fields;
    }

    public readonly struct Row(PublishedTable table, List<string> fields)
    {
        public string Text(string column) => fields[table._names.IndexOf(column)];

        public bool Has(string column) => Text(column).Length > 0;

        public double Number(string column) => double.Parse(Text(column), CultureInfo.InvariantCulture);

        public override string ToString() => string.Join(",", fields);
    }
}
