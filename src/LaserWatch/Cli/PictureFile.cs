using System.Globalization;
using LaserWatch.History;
using LaserWatch.Plots;

namespace LaserWatch.Cli;

/// <summary>Where a picture goes, as what and how large. It appears only when it is whole.</summary>
internal sealed record PictureFile(string Path, int Width, int Height)
{
    private const int Most = 10_000;

    /// <exception cref="CommandException">The name or the size says nothing that can be drawn.</exception>
    public static PictureFile? Of(string? path, string? size)
    {
        if (path is null)
            return size is null ? null : throw new CommandException(ExitCode.BadUsage, "--plot-size needs --plot.");
        if (!IsSvg(path) && !path.EndsWith(".png", StringComparison.OrdinalIgnoreCase))
            throw new CommandException(ExitCode.BadUsage, $"--plot {path}: a picture is an .svg or a .png.");
        if (size is null)
            return new(path, TrendPlot.DefaultWidth, TrendPlot.DefaultHeight);
        var parts = size.Split('x');
        if (parts.Length == 2 && Number(parts[0], out var width) && Number(parts[1], out var height)
            && width is >= TrendPlot.LeastWidth and <= Most && height is >= TrendPlot.LeastHeight and <= Most)
            return new(path, width, height);
        throw new CommandException(
            ExitCode.BadUsage, $"--plot-size {size}: write width and height in pixels, such as 1100x660; at least {TrendPlot.LeastWidth}x{TrendPlot.LeastHeight}, at most {Most}x{Most}.");

        static bool Number(string text, out int number) => int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out number);
    }

    /// <exception cref="CommandException">The file cannot be written.</exception>
    public Task WriteAsync(IReadOnlyList<ChannelTrend> trends, CancellationToken stop) =>
        WriteAsync(() => TrendPlot.ToSvg(trends, Width, Height), () => TrendPlot.ToPng(trends, Width, Height), stop);

    /// <exception cref="CommandException">The file cannot be written.</exception>
    public Task WriteAsync(ComparisonPlot plot, CancellationToken stop) => WriteAsync(() => plot.ToSvg(Width), () => plot.ToPng(Width), stop);

    private async Task WriteAsync(Func<string> svg, Func<byte[]> png, CancellationToken stop)
    {
        var making = Path + ".part";
        try
        {
            if (IsSvg(Path))
                await File.WriteAllTextAsync(making, svg(), stop);
            else
                await File.WriteAllBytesAsync(making, png(), stop);
            File.Move(making, Path, overwrite: true);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot write {Path}: {e.Message}");
        }
    }

    private static bool IsSvg(string path) => path.EndsWith(".svg", StringComparison.OrdinalIgnoreCase);
}
