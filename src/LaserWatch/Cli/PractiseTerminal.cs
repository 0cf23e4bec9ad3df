using System.Globalization;
using System.Text;
using LaserWatch.Practice;
using LaserWatch.Practice.Screen;
using Spectre.Console;

namespace LaserWatch.Cli;

/// <summary>The terminal of a practice: draws what has changed, and reads keys. Works over SSH, without colour, and with ASCII alone.</summary>
internal sealed class PractiseTerminal
{
    private const string Enter = "\e[?1049h\e[?25l\e[2J";
    private const string Leave = "\e[0m\e[?25h\e[?1049l";

    private static readonly TimeSpan BetweenLooks = TimeSpan.FromMilliseconds(100);

    private readonly TextWriter _screen;
    private readonly bool _isAscii;
    private readonly bool _isPlain;
    private readonly bool _hasColour;
    private IReadOnlyList<ScreenLine> _drawn = [];
    private (int Width, int Height) _size;

    private PractiseTerminal(TextWriter screen, bool isPlain, bool isAscii, bool hasColour) =>
        (_screen, _isPlain, _isAscii, _hasColour) = (screen, isPlain, isAscii, hasColour);

    public int Width => Math.Clamp(Console.WindowWidth, 40, 120);

    /// <exception cref="CommandException">There is no terminal to draw on and to read keys from.</exception>
    public static PractiseTerminal Require(TextWriter output, bool isPlain)
    {
        if (output != Console.Out || Console.IsOutputRedirected || Console.IsInputRedirected)
            throw new CommandException(ExitCode.BadUsage, "practise draws on a terminal and reads its keys, and this is none: run it in one, or give --script FILE.");
        // Also switches a Windows console to understand what is drawn.
        var found = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(output) }).Profile.Capabilities;
        if (!found.Ansi || Environment.GetEnvironmentVariable("TERM") == "dumb")
            throw new CommandException(ExitCode.BadUsage, "this terminal cannot place text (TERM says so): run practise in another, or give --script FILE.");
        var noColour = isPlain || !string.IsNullOrEmpty(Environment.GetEnvironmentVariable("NO_COLOR"));
        return new PractiseTerminal(output, isPlain, isPlain || !found.Unicode || !LocaleHasUnicode(), !noColour && found.ColorSystem != ColorSystem.NoColors);
    }

    /// <summary>Plays until the trainee is done; returns the speed at the end, or null where he left or was stopped.</summary>
    public Task<double?> PlayAsync(PracticeSession session, double speed, CancellationToken stop)
    {
        var pace = new PracticePace(speed, TimeProvider.System);
        var desk = new PracticeDesk(session, pace);
        return OnScreenAsync(
            () =>
            {
                session.Advance(pace.Take(desk.IsHeld || PracticeFrame.IsTooSmall(_size.Width, _size.Height)));
                desk.Follow();
                return PracticeFrame.Lines(desk, _size.Width, _size.Height, _isAscii);
            },
            desk.Take,
            () => session.IsOver || desk.IsLeft,
            () => session.IsOver ? pace.Speed : (double?)null,
            stop);
    }

    /// <summary>The debrief, to be read at leisure.</summary>
    public Task ShowDebriefAsync(PracticeDebrief debrief, CancellationToken stop)
    {
        var pager = new Pager("Debrief", width => DebriefText.Lines(debrief, width));
        var isRead = false;
        return OnScreenAsync(
            () =>
            [
                .. pager.Lines(_size.Width, Math.Max(2, _size.Height - 1)),
                new ScreenLine(Fitted("up, down, PgUp, PgDn: read on | e: leave (it is printed then)", _size.Width), LineLook.Bar),
            ],
            key =>
            {
                isRead |= key.KeyChar is 'e' or '\x03' || key.Key is ConsoleKey.Escape;
                pager.Take(key);
            },
            () => isRead, () => true, stop);
    }

    private async Task<T> OnScreenAsync<T>(Func<IReadOnlyList<ScreenLine>> lines, Action<ConsoleKeyInfo> take, Func<bool> isOver, Func<T> outcome, CancellationToken stop)
    {
        var treated = Console.TreatControlCAsInput;
        try
        {
            // Ctrl-C is a key here: it asks, and the debrief is not lost.
            Console.TreatControlCAsInput = true;
            _screen.Write(Enter);
            while (!isOver() && !stop.IsCancellationRequested)
            {
                _ = Resized();
                Draw(lines());
                // Never a blocking read: the recording goes on.
                while (!isOver() && Console.KeyAvailable)
                    take(Console.ReadKey(intercept: true));
                if (!isOver())
                    await Task.Delay(BetweenLooks, TimeProvider.System, stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }

            return outcome();
        }
        finally
        {
            _screen.Write(Leave);
            _screen.Flush();
            _drawn = [];
            _size = default;
            Console.TreatControlCAsInput = treated;
        }
    }

    private bool Resized()
    {
        var size = (Console.WindowWidth, Console.WindowHeight);
        if (size == _size)
            return false;
        _size = size;
        _drawn = [];
        _screen.Write("\e[0m\e[2J");
        return true;
    }

    /// <summary>Writes only the lines that have changed, and those at once: over a slow line all of them would be felt.</summary>
    private void Draw(IReadOnlyList<ScreenLine> lines)
    {
        var frame = new StringBuilder();
        for (var i = 0; i < lines.Count && i < _size.Height; i++)
        {
            if (i < _drawn.Count && _drawn[i] == lines[i])
                continue;
            var text = Fitted(_isAscii ? Folded(lines[i].Text) : lines[i].Text, _size.Width);
            // Erased first: at the last column of a full line an erase would take its last character.
            frame.Append(CultureInfo.InvariantCulture, $"\e[{i + 1};1H\e[0m\e[2K{Look(lines[i].Look)}{text}\e[0m");
        }

        _drawn = lines;
        _screen.Write(frame.ToString());
        _screen.Flush();
    }

    private string Look(LineLook look) => look switch
    {
        _ when _isPlain => "",
        LineLook.Bar => "\e[7m",
        LineLook.Heading => "\e[1m",
        LineLook.Waiting => _hasColour ? "\e[1;31m" : "\e[1m",
        _ => "",
    };

    private static string Fitted(string text, int width) => text.Length <= width ? text : text[..width];

    /// <summary>One character for one, so that columns stay.</summary>
    private static string Folded(string text) => string.Create(text.Length, text, static (folded, from) =>
    {
        for (var i = 0; i < from.Length; i++)
        {
            folded[i] = from[i] switch
            {
                < '\x7f' => from[i],
                '°' => ' ',
                '–' or '—' or '−' => '-',
                '‘' or '’' => '\'',
                '“' or '”' => '"',
                '×' => 'x',
                '…' => '.',
                _ => '?',
            };
        }
    });

    private static bool LocaleHasUnicode()
    {
        if (OperatingSystem.IsWindows())
            return true;
        string? Said(string name) => Environment.GetEnvironmentVariable(name) is { Length: > 0 } said ? said : null;
        var locale = Said("LC_ALL") ?? Said("LC_CTYPE") ?? Said("LANG") ?? "";
        return locale.Contains("UTF-8", StringComparison.OrdinalIgnoreCase) || locale.Contains("UTF8", StringComparison.OrdinalIgnoreCase);
    }
}
