using LaserWatch.Cases;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Practice.Screen;

public class PracticeScreenTests
{
    public static TheoryData<string> All => [.. ShippedCases.Names];

    [Theory]
    [MemberData(nameof(All))]
    public void At_any_moment_and_size_it_has_as_many_lines_as_the_window_and_none_is_wider(string name)
    {
        using var session = Practised.Begin(name);
        var desk = Desk(session);
        string[] keys = ["", "r", "t", "k", "c", "l", "?", "g", "e", "a", "s", "n"];
        for (var i = 0; !session.IsPlayedOut; i++)
        {
            session.Advance(TimeSpan.FromMinutes(3));
            desk.Follow();
            Press(desk, keys[i % keys.Length]);
            foreach (var (width, height) in ((int, int)[])[(80, 24), (81, 25), (100, 30), (120, 40), (200, 60), (80, 100)])
            {
                foreach (var ascii in (bool[])[false, true])
                {
                    var lines = PracticeFrame.Lines(desk, width, height, ascii);
                    Assert.Equal(height, lines.Count);
                    Assert.All(lines, line => Assert.InRange(line.Text.Length, 0, width));
                    Assert.All(lines, line => Assert.DoesNotContain(line.Text, char.IsControl));
                    if (ascii)
                        Assert.DoesNotContain(lines, line => line.Text.Any(c => c is >= '▁' and <= '█'));
                }
            }

            desk.Take(new ConsoleKeyInfo('\e', ConsoleKey.Escape, false, false, false));
        }
    }

    [Fact]
    public void State_and_priority_of_an_alarm_stand_in_words()
    {
        using var session = Practised.Begin("plywood-morning");
        session.AdvanceToAnAlarm();
        var desk = Desk(session);
        desk.Follow();

        var lines = PracticeFrame.Lines(desk, 80, 24, ascii: true).Select(l => l.Text).ToList();

        Assert.Contains("unacknowledged  high  air-pressure-low  09:51:34  152 kPa, limit 189", lines);
        Assert.Contains("Alarms: 1, of them 1 unacknowledged", lines);
        Assert.Contains(lines, l => l.StartsWith("air_pressure ", StringComparison.Ordinal) && l.Contains(" kPa         210 ", StringComparison.Ordinal));
    }

    [Fact]
    public void A_small_window_says_what_it_needs() =>
        Assert.Equal(
            "The window is 60 x 20. Practice needs 80 x 24: make it larger. Time stands.",
            string.Join(' ', PracticeFrame.Lines(Desk(Practised.Begin("four-jobs")), 60, 20, false).Select(l => l.Text)));

    [Fact]
    public void A_list_is_narrowed_by_typing_and_time_stands_while_it_is_open()
    {
        using var session = Practised.Begin("plywood-morning");
        var desk = Desk(session);
        Press(desk, "c");
        Assert.True(desk.IsHeld);
        Press(desk, "kink");
        Assert.Equal(["air-hose-kink"], desk.Choices!.Shown.Select(c => c.Id));
        desk.Take(new ConsoleKeyInfo('\r', ConsoleKey.Enter, false, false, false));

        Assert.False(desk.IsHeld);
        Assert.Equal(new PracticeAct(PracticeActKind.NameCause, "air-hose-kink"), Assert.Single(session.Acts).Act);
    }

    [Fact]
    public void The_chosen_line_of_a_long_list_stays_in_view()
    {
        using var session = Practised.Begin("plywood-morning");
        var desk = Desk(session);
        Press(desk, "k");
        for (var i = 0; i < session.Model.Checks.Count; i++)
        {
            var shown = PracticeFrame.Lines(desk, 80, 24, ascii: false).Select(l => l.Text).ToList();
            var check = session.Model.Checks[i];
            Assert.Contains(shown, l => l.StartsWith($"> {check.Id} ", StringComparison.Ordinal));
            Assert.Contains(check.How.Split(' ')[^1], string.Join(' ', shown), StringComparison.Ordinal);
            desk.Take(new ConsoleKeyInfo('\0', ConsoleKey.DownArrow, false, false, false));
        }
    }

    [Fact]
    public void Ctrl_c_asks_and_only_e_after_it_leaves_without_a_debrief()
    {
        using var session = Practised.Begin("plywood-morning");
        var desk = Desk(session);
        var ctrlC = new ConsoleKeyInfo('\x03', ConsoleKey.C, false, false, control: true);
        desk.Take(ctrlC);
        Press(desk, "x");
        Assert.False(desk.IsLeft || session.IsOver || desk.IsHeld);
        desk.Take(ctrlC);
        Press(desk, "e");
        Assert.True(desk.IsLeft);
    }

    private static PracticeDesk Desk(PracticeSession session) => new(session, new PracticePace(20, new FakeTimeProvider()));

    private static void Press(PracticeDesk desk, string keys)
    {
        foreach (var key in keys)
            desk.Take(new ConsoleKeyInfo(key, ConsoleKey.None, false, false, false));
    }
}
