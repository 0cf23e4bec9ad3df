using System.ComponentModel;
using System.Diagnostics;
using LaserWatch.Alarms;

namespace LaserWatch.Delivery;

/// <summary>Runs a program for each message, with the message's JSON on its standard input. Exit status 0: it is done.</summary>
/// <remarks>
/// Its environment is bare: the agent's own may hold passwords. What it prints goes nowhere, but for the first line of its errors where it fails.
/// Killed with what it started, as far as that is still its child: one that has made itself a daemon is not found.
/// </remarks>
internal sealed class HookOutlet(string name, HookOptions options, TimeProvider time) : IOutlet
{
    private static readonly string[] Inherited = ["PATH", "LANG", "TZ", "SystemRoot", "TEMP", "TMP"];

    public string Name => name;

    public async Task<OutletAnswer> SendAsync(AlarmMessage message, CancellationToken stop)
    {
        using var process = new Process { StartInfo = StartInfo(message), EnableRaisingEvents = true };

        // Not by waiting for the end of its output: a child of its own may hold that open for ever.
        var ended = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        var firstError = "";
        process.Exited += (_, _) => ended.TrySetResult();
        process.OutputDataReceived += (_, _) => { };
        process.ErrorDataReceived += (_, line) =>
        {
            if (line.Data is { Length: > 0 } text && firstError.Length == 0)
                firstError = MessageText.Plain(text.Length <= 200 ? text : text[..200]);
        };
        try
        {
            process.Start();
        }
        catch (Win32Exception fault)
        {
            return OutletAnswer.Later($"{options.Executable} cannot be run: {fault.Message}");
        }

        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(options.TimeoutSeconds), time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, limit.Token);
        try
        {
            await GiveAsync(process, MessageJson.ToUtf8(message), either.Token);
            await ended.Task.WaitAsync(either.Token);
        }
        catch (OperationCanceledException)
        {
            process.Kill(entireProcessTree: true);
            stop.ThrowIfCancellationRequested();
            return OutletAnswer.Later($"{options.Executable} did not end within {options.TimeoutSeconds} s, and was killed");
        }

        return process.ExitCode == 0
            ? OutletAnswer.Delivered
            : OutletAnswer.Later($"{options.Executable} ended with {process.ExitCode}{(firstError.Length == 0 ? "" : $": {firstError}")}");
    }

    private ProcessStartInfo StartInfo(AlarmMessage message)
    {
        var start = new ProcessStartInfo(options.Executable, options.Arguments)
        {
            UseShellExecute = false,
            CreateNoWindow = true,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        start.Environment.Clear();
        foreach (var variable in Inherited)
        {
            if (Environment.GetEnvironmentVariable(variable) is { } value)
                start.Environment[variable] = value;
        }

        var first = message.Entries[0].Change;
        start.Environment["LASERWATCH_MESSAGE"] = message.Id;
        start.Environment["LASERWATCH_LATE"] = message.IsLate ? "1" : "0";
        start.Environment["LASERWATCH_ALARMS"] = message.Entries.Count.ToString(System.Globalization.CultureInfo.InvariantCulture);
        start.Environment["LASERWATCH_MACHINE"] = first.Machine;
        start.Environment["LASERWATCH_CONDITION"] = first.Condition;
        start.Environment["LASERWATCH_STATE"] = first.State.Name();
        start.Environment["LASERWATCH_PRIORITY"] = message.Entries.Max(e => e.Change.Priority).Name();
        return start;
    }

    private static async Task GiveAsync(Process process, byte[] json, CancellationToken stop)
    {
        try
        {
            await process.StandardInput.BaseStream.WriteAsync(json, stop);
            await process.StandardInput.BaseStream.FlushAsync(stop);
            process.StandardInput.Close();
        }
        catch (IOException)
        {
            // It need not read it: a buzzer knows all it needs when it is called.
        }
    }
}
