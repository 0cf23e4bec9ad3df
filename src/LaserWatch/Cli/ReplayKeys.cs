using LaserWatch.Recordings;

namespace LaserWatch.Cli;

/// <summary>The keys that control a replay on a terminal, and the line that shows where it is.</summary>
/// <remarks>Plain text: it reads the same without colour, over SSH and in a log of the terminal.</remarks>
internal sealed class ReplayKeys(TextWriter screen, RecordingPlayer player, TimeProvider time)
{
    public const string Legend =
        "h hold, go | n next event | b f 1 minute back, forward | B F 10 minutes | 1-9 pace | w a control as words | e end";

    private static readonly TimeSpan BetweenLooks = TimeSpan.FromMilliseconds(30);

    private readonly Lock _screen = new();
    private string? _typed;
    private string _shown = "";
    private int _width;

    /// <summary>Reads keys until the token says stop.</summary>
    public async Task RunAsync(CancellationToken stop)
    {
        while (!stop.IsCancellationRequested)
        {
            // Never a blocking read: it would hold the terminal beyond the end of the replay.
            while (Console.KeyAvailable)
                Take(Console.ReadKey(intercept: true));
            await Task.Delay(BetweenLooks, time, stop).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    /// <summary>Where the replay is, in the line that is written over and over.</summary>
    public void Show(string words)
    {
        lock (_screen)
        {
            _shown = words;
            Draw();
        }
    }

    /// <summary>A line that stays.</summary>
    public void Say(string words)
    {
        lock (_screen)
        {
            Erase();
            screen.WriteLine(words);
            Draw();
        }
    }

    public void Erase()
    {
        lock (_screen)
        {
            screen.Write("\r" + new string(' ', _width) + "\r");
            _width = 0;
        }
    }

    private void Draw()
    {
        var line = _typed is null ? _shown : "control: " + _typed;
        screen.Write("\r" + line.PadRight(_width));
        screen.Flush();
        _width = line.Length;
    }

    private void Take(ConsoleKeyInfo key)
    {
        if (_typed is not null)
        {
            Type(key);
            return;
        }

        ReplayControl? control = key.KeyChar switch
        {
            'h' => new ReplayControl.HoldOrGo(),
            'n' => new ReplayControl.Next(),
            'b' => new ReplayControl.MoveBy(TimeSpan.FromMinutes(-1)),
            'B' => new ReplayControl.MoveBy(TimeSpan.FromMinutes(-10)),
            'f' => new ReplayControl.MoveBy(TimeSpan.FromMinutes(1)),
            'F' => new ReplayControl.MoveBy(TimeSpan.FromMinutes(10)),
            'e' => new ReplayControl.End(),
            '?' => new ReplayControl.NotUnderstood(Legend),
            var digit => PaceKeys.Of(digit) is { } times ? new ReplayControl.Pace(times) : null,
        };
        if (key.KeyChar == 'w')
        {
            lock (_screen)
            {
                _typed = "";
                Draw();
            }
        }
        else if (control is not null)
        {
            Hand(control);
        }
    }

    private void Type(ConsoleKeyInfo key)
    {
        lock (_screen)
        {
            if (key.Key == ConsoleKey.Enter)
            {
                var control = ReplayControlText.Parse(_typed!);
                _typed = null;
                if (control is not null)
                    Hand(control);
            }
            else
            {
                _typed = key.Key switch
                {
                    ConsoleKey.Escape => null,
                    ConsoleKey.Backspace => _typed!.Length == 0 ? null : _typed[..^1],
                    _ => char.IsControl(key.KeyChar) || _typed!.Length > 60 ? _typed : _typed + key.KeyChar,
                };
            }

            Draw();
        }
    }

    private void Hand(ReplayControl control)
    {
        if (!player.Take(control))
            Say("too many keys at once: this one was left out");
    }
}
