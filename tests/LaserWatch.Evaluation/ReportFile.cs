using System.Globalization;
using System.Text;

namespace LaserWatch.Evaluation;

/// <summary>Puts the tables into a file, below its mark where it has one.</summary>
internal static class ReportFile
{
    private const string Mark = "<!-- tables -->";

    public static void Write(string path, IReadOnlyList<string> words, DateTimeOffset made, string tables)
    {
        var before = File.Exists(path) ? File.ReadAllText(path) : Mark;
        var mark = before.IndexOf(Mark, StringComparison.Ordinal);
        var text = new StringBuilder(mark < 0 ? "" : before[..mark]);
        var options = string.Concat(words.TakeWhile(word => word != "--out").Select(word => " " + word));
        text.Append(Mark).Append("\n\n");
        text.Append(CultureInfo.InvariantCulture, $"Made on {made:yyyy-MM-dd} by `dotnet run -c Release --project tests/LaserWatch.Evaluation{(options.Length == 0 ? "" : " --" + options)}`.\n\n");
        text.Append(tables.TrimEnd()).Append('\n');
        File.WriteAllText(path, text.ToString());
    }
}
