using System.Text;

namespace LaserWatch.Practice.Screen;

/// <summary>Values as columns of a height: block characters, eight steps a line, or ASCII.</summary>
internal static class BlockChart
{
    private const string Blocks = "▁▂▃▄▅▆▇█";

    /// <summary>The more ink, the higher. In charts of several lines a full column is the last of them.</summary>
    private const string Ascii = "_.-=+*%#";

    /// <summary>Lines from top to bottom, each as long as there are values.</summary>
    /// <param name="values">Null: nothing was told, and nothing is drawn.</param>
    public static string[] Lines(IReadOnlyList<double?> values, double low, double high, int height, bool ascii)
    {
        var steps = ascii ? Ascii : Blocks;
        var lines = new string[height];
        for (var line = 0; line < height; line++)
        {
            var below = (height - 1 - line) * steps.Length;
            var text = new StringBuilder(values.Count);
            foreach (var value in values)
            {
                if (value is not { } known)
                {
                    text.Append(' ');
                    continue;
                }

                var level = 1 + (int)Math.Round(Math.Clamp((known - low) / (high - low), 0, 1) * ((height * steps.Length) - 1));
                text.Append(level <= below ? ' ' : steps[Math.Min(level - below, steps.Length) - 1]);
            }

            lines[line] = text.ToString();
        }

        return lines;
    }

    /// <summary>From where to where to draw: the values and the recorded one, and never so narrow that noise looks like an event.</summary>
    public static (double Low, double High) Scale(IEnumerable<double?> values, double? recorded)
    {
        const double leastShare = 0.1;
        double[] known = [.. values.Append(recorded).OfType<double>()];
        if (known.Length == 0)
            return (0, 1);
        var (low, high) = (known.Min(), known.Max());
        var least = Math.Max(leastShare * Math.Max(Math.Abs(low), Math.Abs(high)), 0.5);
        if (high - low >= least)
            return (low, high);
        var middle = (low + high) / 2;
        return (middle - (least / 2), middle + (least / 2));
    }
}
