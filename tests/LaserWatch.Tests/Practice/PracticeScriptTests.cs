namespace LaserWatch.Practice;

public class PracticeScriptTests
{
    [Fact]
    public void Each_line_is_an_act_at_its_second()
    {
        var acts = PracticeScript.Parse(
            ["# a comment", "", "at 12.5 acknowledge", "at 120 acknowledge air-pressure-low # and why", "at 150 cause air-hose-kink", "at 150 nothing-is-wrong", "at 151 done"], out var mistake);

        Assert.Null(mistake);
        Assert.Equal(
            [
                new(TimeSpan.FromSeconds(12.5), new(PracticeActKind.Acknowledge), 3),
                new(TimeSpan.FromSeconds(120), new(PracticeActKind.Acknowledge, "air-pressure-low"), 4),
                new(TimeSpan.FromSeconds(150), new(PracticeActKind.NameCause, "air-hose-kink"), 5),
                new(TimeSpan.FromSeconds(150), new(PracticeActKind.SayNothingIsWrong), 6),
                new(TimeSpan.FromSeconds(151), new(PracticeActKind.Finish), 7),
            ],
            acts);
    }

    [Theory]
    [InlineData("acknowledge", "write 'at SECONDS ACT', such as 'at 120 acknowledge air-pressure-low'")]
    [InlineData("at -5 done", "'-5' is no number of seconds from 0 to 10000000")]
    [InlineData("at 1e9 done", "'1e9' is no number of seconds from 0 to 10000000")]
    [InlineData("at 5 cause", "'cause' takes one name")]
    [InlineData("at 5 done now", "'done' takes no name")]
    [InlineData("at 5 acknowledge a b", "'acknowledge' takes one name or none")]
    [InlineData("at 3 done", "3 s comes before the line above; write the acts in the order of their times")]
    public void A_mistake_is_told_with_its_line_and_its_mend(string line, string mistake)
    {
        Assert.Empty(PracticeScript.Parse(["at 4 stop", line], out var told));
        Assert.Equal($"line 2: {mistake}", told);
    }

    [Fact]
    public void An_unknown_act_is_answered_with_those_there_are()
    {
        PracticeScript.Parse(["at 4 sleep"], out var told);
        Assert.Equal($"line 1: there is no act 'sleep'; there is {PracticeScript.Known}", told);
        Assert.Contains("reading NAME, ", told, StringComparison.Ordinal);
    }

    [Fact]
    public void Every_act_has_a_name_in_scripts() =>
        Assert.Equal(Enum.GetValues<PracticeActKind>().Length, Enum.GetValues<PracticeActKind>().Select(PracticeScript.NameOf).Distinct().Count());
}
