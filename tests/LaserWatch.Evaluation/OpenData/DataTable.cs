using System.Globalization;

namespace LaserWatch.Evaluation.OpenData;

/// <summary>A data set's file: one column a channel, by name; empty fields are NaN.</summary>
internal sealed class DataTable
{
    private readonly Dictionary<string, double[]> _columns;

    private DataTable(Dictionary<string, double[]> columns, int rows) => (_columns, Rows) = (columns, rows);

    public int Rows { get; }

    /// <exception cref="InvalidDataException">There is no such column.</exception>
    public double[] this[string column] => _columns.TryGetValue(column, out var values) ? values
        : throw new InvalidDataException($"The file has no column '{column}'; it has {string.Join(", ", _columns.Keys)}.");

    /// <summary>Milliseconds since 1970, UTC.</summary>
    public double[] Times => this["timestamp_ms"];

    public static DataTable Read(string path)
    {
        var lines = File.ReadAllLines(path);
        var names = lines[0].Split(',');
        var rows = lines.Length - 1;
        var columns = names.ToDictionary(name => name, _ => new double[rows]);
        for (var row = 0; row < rows; row++)
        {
            var fields = lines[row + 1].Split(',');
            for (var column = 0; column < names.Length; column++)
            {
                columns[names[column]][row] = column < fields.Length
                    && double.TryParse(fields[column], NumberStyles.Float, CultureInfo.InvariantCulture, out var value) ? value : double.NaN;
            }
        }

        return new DataTable(columns, rows);
    }
}
