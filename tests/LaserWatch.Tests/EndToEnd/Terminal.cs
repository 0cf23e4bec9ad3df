using System.Diagnostics;

namespace LaserWatch.EndToEnd;

/// <summary>The <c>laserwatch</c> executable in a real terminal, tmux's, with a server of its own that ends with it.</summary>
internal sealed class Terminal : IAsyncDisposable
{
    private readonly string _socket;

    private Terminal(string socket) => _socket = socket;

    /// <param name="folder">For the terminal's socket.</param>
    public static async Task<Terminal> StartAsync(string folder, params string[] arguments)
    {
        var terminal = new Terminal(Path.Combine(folder, "terminal"));
        var program = Path.Combine(AppContext.BaseDirectory, "laserwatch.dll");
        var command = $"dotnet {program} {string.Join(' ', arguments.Select(a => $"'{a}'"))}; echo status=$?; read -r wait";
        await terminal.AskAsync("-f", "/dev/null", "new-session", "-d", "-x", "140", "-y", "40", command);
        return terminal;
    }

    /// <summary>Presses keys, by tmux's names or as text.</summary>
    public async Task PressAsync(params string[] keys)
    {
        foreach (var key in keys)
            await AskAsync("send-keys", key);
    }

    /// <param name="withAttributes">Colours and other attributes stand in it as escape sequences.</param>
    public Task<string> ScreenAsync(bool withAttributes = false) => AskAsync(["capture-pane", "-p", .. withAttributes ? ["-e"] : Array.Empty<string>()]);

    /// <summary>Waits until the screen shows the text.</summary>
    public async Task ShowsAsync(string text)
    {
        var screen = "";
        await Eventually.HoldsAsync(
            async () => (screen = await ScreenAsync()).Contains(text, StringComparison.Ordinal), () => $"the terminal shows '{text}'; it shows:\n{screen}");
    }

    public async ValueTask DisposeAsync() => await AskAsync("kill-server");

    private async Task<string> AskAsync(params string[] words)
    {
        using var tmux = Process.Start(new ProcessStartInfo("tmux", ["-S", _socket, .. words]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        var said = tmux.StandardOutput.ReadToEndAsync();
        var error = await tmux.StandardError.ReadToEndAsync();
        await tmux.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
        Assert.True(tmux.ExitCode == 0, $"tmux {string.Join(' ', words)}: {error}");
        return await said;
    }
}
