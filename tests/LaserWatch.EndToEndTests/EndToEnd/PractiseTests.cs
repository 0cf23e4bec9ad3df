using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Storage;

namespace LaserWatch.EndToEnd;

/// <summary><c>laserwatch practise</c> in a real terminal, with real keys; what is judged is what the terminal says it shows.</summary>
public sealed class PractiseTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [SkippableTheory]
    [InlineData(80, 24)]
    [InlineData(120, 40)]
    public async Task A_case_is_played_through_to_its_debrief_and_nothing_is_cut_off(int width, int height)
    {
        await using var terminal = await StartAsync(width, height, "LC_ALL=C.UTF-8", "--speed", "100");

        await terminal.ShowsAsync("100x playing");
        await terminal.ShowsAsync("unacknowledged  high  air-pressure-low  09:51:34");
        await terminal.PressAsync("h");
        await terminal.ShowsAsync("100x held");
        await CheckScreenAsync(terminal, width, height, "a acknowledge | r reading | t trend | k check | c cause | n nothing is wrong",
            "s stop job | h hold, go | 1-9 pace | l log | ? help | d debrief | g give up");
        Assert.Contains('█', await terminal.ScreenAsync());

        await terminal.PressAsync("a");
        await terminal.ShowsAsync("air-pressure-low: acknowledged.");
        await terminal.PressAsync("r", "air_pr", "Enter");
        await terminal.ShowsAsync("recorded for the job: 210");
        await terminal.PressAsync("t", "air_flow");
        await terminal.ShowsAsync("> air_flow");
        await CheckScreenAsync(terminal, width, height, "Look at the trend of which channel?  with 'air_flow'", "Enter: take it | Esc: leave | time stands");
        await terminal.PressAsync("Enter");
        await terminal.ShowsAsync("air_flow, the last minutes:");
        await terminal.PressAsync("k", "regul", "Enter");
        await terminal.ShowsAsync("regulator, 1 min: nothing found here.");
        await terminal.PressAsync("k");
        await terminal.ShowsAsync("What do you check?");
        await CheckScreenAsync(terminal, width, height, "up, down, PgUp, PgDn: choose | letters: narrow the list", "Enter: take it | Esc: leave | time stands");
        await terminal.PressAsync("air-hose", "Enter");
        await terminal.ShowsAsync("found: air hose kinked or crushed.");
        await terminal.PressAsync("c", "kink", "Enter");
        await terminal.ShowsAsync("Your answer: air hose kinked or crushed (air-hose-kink).");
        await terminal.PressAsync("?");
        await terminal.ShowsAsync("This is a recording, played through the rules");
        await CheckScreenAsync(terminal, width, height, "up, down, PgUp, PgDn: read on", "Esc: close | time stands");
        await terminal.PressAsync("End");
        await terminal.ShowsAsync("of safety.");
        await terminal.PressAsync("Escape");
        await terminal.ShowsAsync("a acknowledge | r reading");
        await terminal.PressAsync("d");
        await terminal.ShowsAsync("(lines 1 to ");
        await CheckScreenAsync(terminal, width, height, "up, down, PgUp, PgDn: read on | e: leave (it is printed then)");

        // Page by page it is the text that is printed afterwards, line for line.
        var read = new List<string>();
        var page = height - 2;
        while (true)
        {
            var screen = Lines(await SettledAsync(terminal));
            var heading = screen[0].Split(' ');
            var (first, last, all) = (int.Parse(heading[3]), int.Parse(heading[5]), int.Parse(heading[7].TrimEnd(')')));
            read.AddRange(screen.Skip(1 + read.Count - (first - 1)).Take(last - read.Count));
            if (last == all)
                break;
            await terminal.PressAsync("PageDown");
            await terminal.ShowsAsync($"(lines {Math.Min(first + page, all - page + 1)} to ");
        }

        await terminal.PressAsync("e");
        await terminal.ShowsAsync("status=0");
        var printed = Lines(await terminal.HistoryAsync());
        Assert.Equal(read, printed.SkipWhile(l => !l.StartsWith("Debrief: ", StringComparison.Ordinal)).TakeWhile(l => !l.StartsWith("status=", StringComparison.Ordinal)));
        Assert.Contains(read, l => l.StartsWith("Your answer ", StringComparison.Ordinal));
        Assert.EndsWith(Cautions.LocalCodesFirst, string.Join(' ', read.Select(l => l.Trim())), StringComparison.Ordinal);

        using var result = JsonDocument.Parse(Assert.Single(await File.ReadAllLinesAsync(_folder.File("results"))));
        Assert.Equal(("right", 100), (result.RootElement.GetProperty("verdict").GetString(), result.RootElement.GetProperty("speed").GetDouble()));
        Assert.Equal(3.5, result.RootElement.GetProperty("minutes_needed").GetDouble());
    }

    [SkippableFact]
    public async Task Plain_is_ascii_without_any_attribute_and_ctrl_c_offers_the_debrief()
    {
        await using var terminal = await StartAsync(80, 24, "LC_ALL=C.UTF-8", "--plain", "--speed", "500");

        await terminal.ShowsAsync("unacknowledged  high");
        var screen = await terminal.ScreenAsync(withAttributes: true);
        Assert.DoesNotContain(screen, c => c > '~' || c == '\e');
        await terminal.PressAsync("C-c");
        await terminal.ShowsAsync("End the practice? d: with the debrief | e: leave, nothing is kept");
        await terminal.PressAsync("d");
        await terminal.ShowsAsync("Debrief: ");
        await terminal.PressAsync("e");
        await terminal.ShowsAsync("status=1");
        using var result = JsonDocument.Parse(Assert.Single(await File.ReadAllLinesAsync(_folder.File("results"))));
        Assert.Equal("none", result.RootElement.GetProperty("verdict").GetString());
    }

    [SkippableFact]
    public async Task No_colour_is_honoured_and_a_locale_without_unicode_gets_ascii()
    {
        await using var terminal = await StartAsync(80, 24, "LC_ALL=C NO_COLOR=1", "--speed", "500");

        await terminal.ShowsAsync("unacknowledged  high");
        var screen = await terminal.ScreenAsync(withAttributes: true);
        Assert.DoesNotMatch("\e\\[[0-9;]*(3[0-8]|4[0-8]|9[0-7])m", screen);
        Assert.DoesNotContain(screen, c => c > '~');
        await terminal.PressAsync("e", "e");
        await terminal.ShowsAsync("laserwatch: stopped before the debrief; nothing was added to the results.");
        await terminal.ShowsAsync("status=1");
        Assert.Empty(await File.ReadAllLinesAsync(_folder.File("results")));
    }

    [SkippableFact]
    public async Task It_follows_the_window_and_time_stands_while_it_is_too_small()
    {
        await using var terminal = await StartAsync(120, 40, "LC_ALL=C.UTF-8", "--speed", "20");

        await terminal.ShowsAsync("20x playing");
        await terminal.ResizeAsync(60, 20);
        await terminal.ShowsAsync("The window is 60 x 20.");
        await terminal.ResizeAsync(90, 30);
        await terminal.ShowsAsync("g give up");
        await terminal.PressAsync("h");
        await terminal.ShowsAsync("20x held");
        await CheckScreenAsync(terminal, 90, 30, "What you were told", "s stop job | h hold, go | 1-9 pace | l log | ? help | d debrief | g give up");
    }

    private async Task<Terminal> StartAsync(int width, int height, string environment, params string[] options)
    {
        Needs.Program("tmux");
        return await Terminal.StartSizedAsync(_folder.Path, width, height, environment, ["practise", "plywood-morning", "--log", _folder.File("results"), .. options]);
    }

    /// <summary>Whole lines, as they must stand there: one that were cut off would not be found.</summary>
    private static async Task CheckScreenAsync(Terminal terminal, int width, int height, params string[] whole)
    {
        var lines = Lines(await SettledAsync(terminal));
        Assert.InRange(lines.Count, 1, height);
        Assert.All(lines, line => Assert.InRange(line.Length, 0, width));
        foreach (var line in whole)
            Assert.Contains(lines, l => l.Trim() == line);

        // A line that had run over would have pushed the first one out.
        Assert.Matches("^(2026-03-09 |Debrief)", lines[0]);
    }

    /// <summary>A terminal can be looked at in the middle of a frame: what it shows while time stands, twice the same.</summary>
    private static async Task<string> SettledAsync(Terminal terminal)
    {
        string? last = null;
        var screen = await terminal.ScreenAsync();
        await Eventually.HoldsAsync(
            async () =>
            {
                (last, screen) = (screen, await terminal.ScreenAsync());
                return screen == last;
            },
            () => "the terminal comes to rest");
        return screen;
    }

    private static List<string> Lines(string screen) => [.. screen.TrimEnd('\n').Split('\n').Select(l => l.TrimEnd())];
}
