using LaserWatch.Recordings;
using Spectre.Console;

namespace LaserWatch.Cli;

/// <summary>A bar on a terminal while recordings are played; nothing elsewhere.</summary>
internal static class ReplayProgress
{
    public static async Task ShowAsync(string what, IReadOnlyList<RecordingReader> readers, Func<Action?, Task> play, TextWriter error)
    {
        if (error != Console.Error || Console.IsErrorRedirected)
        {
            await play(null).ConfigureAwait(false);
            return;
        }

        var console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(error) });
        await console.Progress().AutoClear(true).Columns(
            new TaskDescriptionColumn(), new ProgressBarColumn(), new PercentageColumn(), new RemainingTimeColumn()).StartAsync(
            async progress =>
            {
                var bar = progress.AddTask(what, maxValue: Math.Max(1, readers.Sum(reader => reader.Length ?? 1)));
                bar.IsIndeterminate = readers.Any(reader => reader.Length is null);
                await play(() => bar.Value = readers.Sum(reader => reader.Position)).ConfigureAwait(false);
            }).ConfigureAwait(false);
    }
}
