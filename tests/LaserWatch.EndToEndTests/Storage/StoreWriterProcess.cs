using System.Diagnostics;
using System.Globalization;
using LaserWatch.StoreWriter;

namespace LaserWatch.Storage;

/// <summary>Another process that appends numbered batches to a store.</summary>
public sealed class StoreWriterProcess : IDisposable
{
    private readonly Process _process;

    /// <param name="more">Where the store is InfluxDB: its address, the bucket, the file of the token.</param>
    public StoreWriterProcess(string path, long first, params string[] more) : this(path, first, 1500, 1, more)
    {
    }

    /// <param name="keepDays">Days to keep samples.</param>
    /// <param name="machines">How many machines each batch is of.</param>
    /// <param name="more">As above.</param>
    public StoreWriterProcess(string path, long first, int keepDays, int machines, params string[] more)
    {
        const int Count = 1_000_000;
        var program = Path.ChangeExtension(typeof(NumberedBatch).Assembly.Location, ".dll");
        _process = Process.Start(new ProcessStartInfo(
            "dotnet", [program, path, .. new long[] { first, Count, keepDays, machines }.Select(number => number.ToString(CultureInfo.InvariantCulture)), .. more])
        {
            RedirectStandardOutput = true,
        })!;
    }

    /// <summary>The next batch that it says it has appended; null where it has ended.</summary>
    public async Task<long?> ReadReportAsync()
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(60));
        var line = await _process.StandardOutput.ReadLineAsync(patience.Token);
        return line is null ? null : long.Parse(line, CultureInfo.InvariantCulture);
    }

    /// <summary>Kills it at once (SIGKILL), and reads what it had said until then.</summary>
    public async Task<long?> KillAsync()
    {
        _process.Kill();
        long? last = null;
        // The last line may have been cut in the middle of its number: only a whole one counts.
        var rest = await _process.StandardOutput.ReadToEndAsync();
        foreach (var line in rest.Split('\n')[..^1])
            last = long.Parse(line, CultureInfo.InvariantCulture);
        await _process.WaitForExitAsync();
        return last;
    }

    public void Dispose()
    {
        if (!_process.HasExited)
            _process.Kill();
        _process.Dispose();
    }
}
