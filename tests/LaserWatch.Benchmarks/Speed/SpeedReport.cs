using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>Runs benches one after the other and prints the table of their figures.</summary>
public static class SpeedReport
{
    /// <returns>The table, and whether every figure was sane and every part here.</returns>
    public static async Task<(string Table, bool IsSane)> RunAsync(IReadOnlyList<Bench> benches, Length length, TextWriter talk, CancellationToken stop)
    {
        List<Figure> figures = [];
        List<string> missing = [];
        foreach (var bench in benches)
        {
            var began = Stopwatch.GetTimestamp();
            try
            {
                figures.AddRange(await bench.Measure(length, stop));
                await talk.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{bench.Name}: {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s"));
            }
            catch (MissingPartException lack)
            {
                missing.Add($"{bench.Name}: not measured, {lack.Message}");
                await talk.WriteLineAsync(missing[^1]);
            }
        }

        foreach (var figure in figures.Where(f => !f.IsSane))
            await talk.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"Out of all bounds: {figure.What}: {figure.Goal.Print(figure.Judged)}, expected {figure.Sane.Least} to {figure.Sane.Most}"));
        return (Print(figures, missing), missing.Count == 0 && figures.All(f => f.IsSane));
    }

    public static string Print(IReadOnlyList<Figure> figures, IReadOnlyList<string> missing)
    {
        var text = new StringBuilder();
        text.AppendLine("| what | ours | yardstick, same run | judged | goal | |");
        text.AppendLine("|---|---:|---:|---:|---:|---|");
        foreach (var figure in figures)
            text.AppendLine($"| {figure.What} | {figure.Ours} | {(figure.Yardstick.Length == 0 ? "–" : figure.Yardstick)} | {figure.Goal.Print(figure.Judged)} | {figure.Goal} | {(figure.IsMet ? "met" : "**missed**")} |");
        text.AppendLine();
        text.AppendLine(CultureInfo.InvariantCulture, $"{Environment.ProcessorCount} × {RuntimeInformation.ProcessArchitecture}, {RuntimeInformation.FrameworkDescription}, {RuntimeInformation.OSDescription.Split('-')[0]}.");
        foreach (var lack in missing)
            text.AppendLine().AppendLine(lack);
        return text.ToString();
    }
}
