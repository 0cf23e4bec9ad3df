using System.Diagnostics;

namespace LaserWatch.EndToEnd;

/// <summary>What a program left behind that was run to its end.</summary>
internal static class EndedProgram
{
    /// <summary>Starts it and reads all it says.</summary>
    /// <exception cref="TimeoutException">It did not end within the limit; it is killed.</exception>
    public static async Task<(int ExitCode, string Out, string Error)> RunAsync(ProcessStartInfo start, TimeSpan within)
    {
        start.RedirectStandardOutput = true;
        start.RedirectStandardError = true;
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync();
        var error = process.StandardError.ReadToEndAsync();
        using var limit = new CancellationTokenSource(within);
        try
        {
            await process.WaitForExitAsync(limit.Token);
        }
        catch (OperationCanceledException)
        {
            process.Kill();
            throw new TimeoutException($"{start.FileName} {string.Join(' ', start.ArgumentList)} did not end within {within.TotalSeconds:0} s.");
        }

        return (process.ExitCode, await output, await error);
    }
}
