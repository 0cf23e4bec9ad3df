using CsCheck;
using LaserWatch.Cases;

namespace LaserWatch.Practice;

public class NotesTextTests
{
    [Fact]
    public void Markdown_becomes_plain_lines()
    {
        const string notes = """
            # The hose

            It **kinked**, *near*
            the `head`.

            | time | reading |
            |---|---|
            | 09:52 | a quarter is gone all at once |

            1. Stop, and only then
               look.
            - Wait
            """;

        Assert.Equal(
            [
                "The hose", "", "It kinked, near the head.", "",
                "time   reading", "09:52  a quarter is gone all", "       at once", "",
                "1. Stop, and only then look.", "- Wait",
            ],
            NotesText.Lines(notes, 28));
    }

    [Fact]
    public void No_line_is_wider_than_it_may_be_and_no_letter_is_lost() =>
        Gen.Select(Gen.String[Gen.Char["abc |-#*1. \n`é"], 0, 200], Gen.Int[12, 60]).Sample((text, width) =>
        {
            Assert.All(NotesText.Lines(text, width), line => Assert.InRange(line.Length, 0, width));
            var flowed = TextFlow.Wrap(text.Replace('\n', ' '), width, "x ", "  ").ToList();
            Assert.All(flowed, line => Assert.InRange(line.Length, 0, width));
            Assert.Equal(Letters("x" + text), Letters(string.Concat(flowed)));
        });

    [Fact]
    public void The_shipped_notes_fit_any_width()
    {
        foreach (var name in ShippedCases.Names)
        {
            var notes = ShippedCases.Open(name).Notes;
            foreach (var width in (int[])[40, 79, 80, 120])
            {
                var lines = NotesText.Lines(notes, width);
                Assert.All(lines, line => Assert.InRange(line.Length, 0, width));
                Assert.Equal(Count(notes), lines.Sum(Count));
            }
        }

        static int Count(string text) => text.Count(char.IsLetterOrDigit);
    }

    [Fact]
    public void Nothing_in_notes_can_steer_the_terminal() =>
        Assert.Equal(["a?[2Jb?"], NotesText.Lines("a\u001b[2Jb\u009b", 40));

    private static string Letters(string text) => string.Concat(text.Where(c => !char.IsWhiteSpace(c)));
}
