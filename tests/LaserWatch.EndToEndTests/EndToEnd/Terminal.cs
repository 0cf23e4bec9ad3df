using System.Diagnostics;

namespace LaserWatch.EndToEnd;

/// <summary>The <c>laserwatch</c> executable in a real terminal, tmux's, with a server of its own that ends with it.</summary>
internal sealed class Terminal : IAsyncDisposable
{
    private readonly string _socket;

    private Terminal(string socket) => _socket = socket;

    /// <param name="folder">For the terminal's socket.</param>
    public static Task<Terminal> StartAsync(string folder, params string[] arguments) => StartSizedAsync(folder, 140, 40, "", arguments);

    /// <param name="environment">Variables before the command, as a shell takes them.</param>
    public static async Task<Terminal> StartSizedAsync(string folder, int width, int height, string environment, params string[] arguments)
    {
        var terminal = new Terminal(Path.Combine(folder, "terminal"));
        var program = Path.Combine(AppContext.BaseDirectory, "laserwatch.dll");
        var command = $"{environment} dotnet {program} {string.Join(' ', arguments.Select(a => $"'{a}'"))}; echo status=$?; read -r wait";
        await terminal.AskAsync("-f", "/dev/null", "new-session", "-d", "-x", Text(width), "-y", Text(height), command);
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

    /// <summary>All that was printed, also what has gone out at the top.</summary>
    public Task<string> HistoryAsync() => AskAsync("capture-pane", "-p", "-S", "-");

    public Task ResizeAsync(int width, int height) => AskAsync("resize-window", "-x", Text(width), "-y", Text(height));

    /// <summary>Waits until the screen shows the text.</summary>
    public async Task ShowsAsync(string text)
    {
        var screen = "";
        await Eventually.HoldsAsync(
            async () => (screen = await ScreenAsync()).Contains(text, StringComparison.Ordinal), () => $"the terminal shows '{text}'; it shows:\n{screen}");
    }

    public async ValueTask DisposeAsync() => await AskAsync("kill-server");

    private static string Text(int number) => number.ToString(System.Globalization.CultureInfo.InvariantCulture);

    private async Task<string> AskAsync(params string[] words)
    {
        using var tmux = Process.Start(new ProcessStartInfo(Needs.Program("tmux"), ["-u", "-S", _socket, .. words]) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        var said = tmux.StandardOutput.ReadToEndAsync();
        var error = await tmux.StandardError.ReadToEndAsync();
        await tmux.WaitForExitAsync().WaitAsync(TimeSpan.FromSeconds(20));
        Assert.True(tmux.ExitCode == 0, $"tmux {string.Join(' ', words)}: {error}");
        return await said;
    }
}
