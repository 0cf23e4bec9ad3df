using System.Diagnostics;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

public sealed class HookOutletTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    [SkippableFact]
    public async Task A_program_gets_the_json_its_arguments_as_they_are_and_a_bare_environment()
    {
        Environment.SetEnvironmentVariable("LASERWATCH_TEST_PASSWORD", "hunter2");
        var change = Change();
        var answer = await Outlet("cat > \"$1\"; printf '%s|' \"$@\" > \"$1.arguments\"; /usr/bin/env > \"$1.environment\"", "; rm -rf $HOME `x`").SendAsync(Message(change), CancellationToken.None);

        Assert.Equal(OutletAnswer.Delivered, answer);
        Assert.Equal(MessageJson.ToUtf8(Message(change)), File.ReadAllBytes(_folder.File("out")));
        Assert.Equal($"{_folder.File("out")}|; rm -rf $HOME `x`|", File.ReadAllText(_folder.File("out.arguments")));
        var environment = File.ReadAllText(_folder.File("out.environment"));
        Assert.DoesNotContain("hunter2", environment, StringComparison.Ordinal);
        Assert.Contains($"LASERWATCH_MESSAGE={change.Id()}\n", environment, StringComparison.Ordinal);
        Assert.Contains("LASERWATCH_PRIORITY=high\n", environment, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task Another_exit_status_than_0_is_a_failure_with_its_first_words()
    {
        var answer = await Outlet("echo no lamp >&2; echo second >&2; exit 7").SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal(OutletOutcome.Later, answer.Outcome);
        Assert.StartsWith($"{_folder.File("hook")} ended with 7", answer.Why, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task One_that_hangs_is_killed_with_what_it_started()
    {
        var answer = await Outlet("sleep 600 & echo $! > \"$1\"; sleep 600", timeoutSeconds: 1).SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal(OutletAnswer.Later($"{_folder.File("hook")} did not end within 1 s, and was killed"), answer);
        var child = File.ReadAllText(_folder.File("out")).Trim();
        await RealBroker.UntilAsync(() => !IsAlive(child), "its child lives on");
    }

    [SkippableFact]
    public async Task One_that_does_not_read_and_leaves_a_child_behind_with_its_output_is_done_when_it_ends()
    {
        var clock = Stopwatch.StartNew();
        var answer = await Outlet("sleep 5 & echo $! > \"$1\"; exit 0", timeoutSeconds: 60).SendAsync(Message(Change() with { Message = new string('x', 1_000_000) }), CancellationToken.None);
        var child = int.Parse(File.ReadAllText(_folder.File("out")), System.Globalization.CultureInfo.InvariantCulture);
        var lived = IsAlive($"{child}");
        using (var left = Process.GetProcessById(child))
            left.Kill();

        Assert.Equal(OutletAnswer.Delivered, answer);
        Assert.True(lived, $"it was waited for, {clock.Elapsed}");
    }

    [Fact]
    public async Task One_that_is_not_there_or_is_no_program_is_told()
    {
        File.WriteAllText(_folder.File("text"), "no program");
        foreach (var path in new[] { _folder.File("absent"), _folder.File("text") })
        {
            var answer = await new HookOutlet("lamp", new HookOptions { Executable = path }, TimeProvider.System).SendAsync(Message(Change()), CancellationToken.None);
            Assert.Equal(OutletOutcome.Later, answer.Outcome);
            Assert.StartsWith($"{path} cannot be run: ", answer.Why, StringComparison.Ordinal);
        }
    }

    public void Dispose() => _folder.Dispose();

    private static bool IsAlive(string pid) => File.Exists($"/proc/{pid}/status") && !File.ReadAllText($"/proc/{pid}/status").Contains("State:\tZ", StringComparison.Ordinal);

    private static AlarmChange Change() => new(
        Instant.From(DeliveryBench.Start), "bay1", "air-pressure-lost", AlarmState.Unacknowledged, AlarmPriority.High, 5, 50, "kPa", null, "no air", [], []);

    private static AlarmMessage Message(AlarmChange change) => new(change.Id(), MessageCause.News, [new(change, AlarmTransition.Raised, null, null, [])], change.Time);

    private HookOutlet Outlet(string script, string? second = null, int timeoutSeconds = 30)
    {
        Skip.If(OperatingSystem.IsWindows() || !File.Exists("/bin/sh") || !Directory.Exists("/proc"), "needs a Unix shell and /proc");
        File.WriteAllText(_folder.File("hook"), "#!/bin/sh\n" + script + "\n");
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(_folder.File("hook"), UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        string[] arguments = second is null ? [_folder.File("out")] : [_folder.File("out"), second];
        return new("lamp", new HookOptions { Executable = _folder.File("hook"), Arguments = arguments, TimeoutSeconds = timeoutSeconds }, TimeProvider.System);
    }
}
