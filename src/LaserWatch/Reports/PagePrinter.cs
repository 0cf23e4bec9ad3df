using System.Diagnostics;
using System.Text;

namespace LaserWatch.Reports;

/// <summary>Prints a page to PDF by a headless Chromium that is there already; brings none.</summary>
public static class PagePrinter
{
    private static readonly string[] Names = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge"];
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(90);

    /// <summary>The first Chromium on the path; null where there is none.</summary>
    public static string? Find()
    {
        var endings = OperatingSystem.IsWindows() ? [".exe"] : new[] { "" };
        return (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries)
            .SelectMany(folder => Names.SelectMany(name => endings.Select(ending => Path.Combine(folder, name + ending))))
            .FirstOrDefault(File.Exists);
    }

    /// <summary>Prints; the PDF appears only when it is whole.</summary>
    /// <param name="html">The page; what is printed is a copy that names the paper.</param>
    /// <param name="paper">As CSS names it: <c>A4</c> or <c>letter</c>.</param>
    /// <returns>Why it could not be printed, in words; null where it was.</returns>
    public static async Task<string?> PrintAsync(string browser, string html, string paper, string pdf, CancellationToken stop)
    {
        var folder = Directory.CreateTempSubdirectory("laserwatch-print-");
        try
        {
            var page = Path.Combine(folder.FullName, "page.html");
            var printed = Path.Combine(folder.FullName, "page.pdf");
            await File.WriteAllTextAsync(page, html.Replace("@page{size:auto;", $"@page{{size:{paper};", StringComparison.Ordinal), stop).ConfigureAwait(false);
            if (await RunAsync(browser, Arguments(folder.FullName, page, printed), stop).ConfigureAwait(false) is { } why)
                return why;
            if (!await IsPdfAsync(printed, stop).ConfigureAwait(false))
                return "it ended without a PDF";
            var unfinished = Path.GetFullPath(pdf) + ".unfinished";
            File.Copy(printed, unfinished, overwrite: true);
            File.Move(unfinished, Path.GetFullPath(pdf), overwrite: true);
            return null;
        }
        finally
        {
            Remove(folder);
        }
    }

    private static List<string> Arguments(string folder, string page, string printed)
    {
        List<string> arguments =
        [
            "--headless=new", "--disable-gpu", "--disable-dev-shm-usage", "--disable-extensions", "--no-first-run", "--no-default-browser-check", "--no-pdf-header-footer",
            $"--user-data-dir={Path.Combine(folder, "profile")}", $"--print-to-pdf={printed}",
        ];
        // Its own sandbox refuses the system's superuser; everybody else keeps it.
        if (!OperatingSystem.IsWindows() && Environment.IsPrivilegedProcess)
            arguments.Add("--no-sandbox");
        arguments.Add(new Uri(page).AbsoluteUri);
        return arguments;
    }

    private static async Task<string?> RunAsync(string browser, List<string> arguments, CancellationToken stop)
    {
        using var process = new Process
        {
            StartInfo = new ProcessStartInfo(browser, arguments) { RedirectStandardError = true, RedirectStandardOutput = true, UseShellExecute = false },
        };
        try
        {
            process.Start();
        }
        catch (System.ComponentModel.Win32Exception fault)
        {
            return fault.Message;
        }

        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(Patience);
        var said = process.StandardError.ReadToEndAsync(patience.Token);
        var output = process.StandardOutput.ReadToEndAsync(patience.Token);
        try
        {
            await process.WaitForExitAsync(patience.Token).ConfigureAwait(false);
            await Task.WhenAll(said, output).ConfigureAwait(false);
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            stop.ThrowIfCancellationRequested();
            return $"it had not ended after {Patience.TotalSeconds:0} s";
        }

        return process.ExitCode == 0 ? null : $"it ended with {process.ExitCode}{LastLine(await said.ConfigureAwait(false))}";
    }

    private static string LastLine(string said) =>
        said.Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries).LastOrDefault() is { } line ? $": {line}" : "";

    private static async Task<bool> IsPdfAsync(string path, CancellationToken stop)
    {
        if (!File.Exists(path))
            return false;
        var head = new byte[5];
        var file = File.OpenRead(path);
        await using (file.ConfigureAwait(false))
            return await file.ReadAtLeastAsync(head, head.Length, throwOnEndOfStream: false, stop).ConfigureAwait(false) == head.Length && Encoding.ASCII.GetString(head) == "%PDF-";
    }

    // A browser's helpers may hold a file of its profile for a moment longer; what cannot be removed is the system's to clean up.
    private static void Remove(DirectoryInfo folder)
    {
        try
        {
            folder.Delete(recursive: true);
        }
        catch (Exception fault) when (fault is IOException or UnauthorizedAccessException)
        {
        }
    }
}
