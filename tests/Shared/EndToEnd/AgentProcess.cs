using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace LaserWatch.EndToEnd;

/// <summary>The <c>laserwatch</c> executable as a process of its own, as a shop runs it.</summary>
internal sealed class AgentProcess : IDisposable
{
    private readonly Process _process;
    private readonly StringBuilder _output = new();

    private AgentProcess(Process process)
    {
        _process = process;
        process.OutputDataReceived += (_, line) => Keep(line.Data);
        process.ErrorDataReceived += (_, line) => Keep(line.Data);
        process.Start();
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
    }

    /// <summary>All that it has printed so far, standard output and standard error together.</summary>
    public string Output
    {
        get
        {
            lock (_output)
                return _output.ToString();
        }
    }

    public bool HasExited => _process.HasExited;

    public static AgentProcess Start(params string[] arguments) => new(Make(arguments));

    /// <summary>Starts it with a standard input that <see cref="TellAsync"/> writes to.</summary>
    public static AgentProcess StartTold(params string[] arguments)
    {
        var process = Make(arguments);
        process.StartInfo.RedirectStandardInput = true;
        return new(process);
    }

    /// <param name="environment">Variables besides those of the tests.</param>
    public static AgentProcess StartWith(IReadOnlyDictionary<string, string> environment, params string[] arguments)
    {
        var process = Make(arguments);
        foreach (var (name, value) in environment)
            process.StartInfo.Environment[name] = value;
        return new(process);
    }

    /// <summary>Starts an installed program instead of the build beside the tests.</summary>
    public static AgentProcess StartProgram(string program, params string[] arguments)
    {
        var process = Make(arguments);
        process.StartInfo.FileName = program;
        process.StartInfo.ArgumentList.RemoveAt(0);
        return new(process);
    }

    /// <summary>Runs a verb to its end.</summary>
    public static async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var process = Make(arguments);
        return await EndedProgram.RunAsync(process.StartInfo, TimeSpan.FromSeconds(60));
    }

    /// <summary>Writes a line to its standard input.</summary>
    public async Task TellAsync(string line)
    {
        await _process.StandardInput.WriteLineAsync(line);
        await _process.StandardInput.FlushAsync();
    }

    /// <summary>Waits until the output holds the text.</summary>
    public Task SaysAsync(string text) =>
        Eventually.HoldsAsync(() => Output.Contains(text, StringComparison.Ordinal), () => $"the agent says '{text}'; it said:\n{Output}");

    /// <summary>Waits until it ends by itself; returns its exit status.</summary>
    public async Task<int> EndsAsync()
    {
        await _process.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(60));
        return _process.ExitCode;
    }

    /// <summary>SIGKILL: as if the power went.</summary>
    public void Kill()
    {
        _process.Kill();
        _process.WaitForExit();
    }

    /// <summary>SIGTERM, as systemd and Docker send it.</summary>
    public async Task<(int ExitCode, TimeSpan Took)> TerminateAsync(TimeSpan limit)
    {
        var clock = Stopwatch.StartNew();
        using (var kill = Process.Start("kill", ["-TERM", _process.Id.ToString(CultureInfo.InvariantCulture)]))
            await kill.WaitForExitAsync();
        using var enough = new CancellationTokenSource(limit);
        try
        {
            await _process.WaitForExitAsync(enough.Token);
        }
        catch (OperationCanceledException)
        {
            Kill();
            throw new TimeoutException($"The agent did not stop within {limit}. It said:\n{Output}");
        }

        return (_process.ExitCode, clock.Elapsed);
    }

    public void Dispose()
    {
        if (!_process.HasExited)
            Kill();
        _process.Dispose();
    }

    private static Process Make(string[] arguments)
    {
        var program = Path.Combine(AppContext.BaseDirectory, "laserwatch.dll");
        return new Process
        {
            StartInfo = new ProcessStartInfo("dotnet", [program, .. arguments])
            {
                RedirectStandardOutput = true,
                RedirectStandardError = true,
                UseShellExecute = false,
            },
        };
    }

    private void Keep(string? line)
    {
        if (line is null)
            return;
        lock (_output)
            _output.AppendLine(line);
    }
}
