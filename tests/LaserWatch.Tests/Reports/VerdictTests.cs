using LaserWatch.Life;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Reports;

public class VerdictTests
{
    [Fact]
    public void A_fall_is_told_with_its_interval_and_how_it_came() =>
        Assert.Matches(@"^Since the tube was put in on 2024-03-04, the current at fixed power has fallen by 1\d\.\d % \(90 % interval 1\d\.\d to 1\d\.\d %\), slowly\.$", Plain(Verdict.Of(ConstructedReport.Full())[0]));

    [Fact]
    public void A_baseline_that_was_learned_late_is_not_told_as_that_of_the_new_tube()
    {
        var report = ConstructedReport.Full() with { Age = new TubeAge(ConstructedReport.Begin - TimeSpan.FromDays(300), null, 1187, 1400, 24, "") };

        Assert.StartsWith("Since the first record of this tube on 2024-03-04 (it had been in since 2023-05-09), the current", Plain(Verdict.Of(report)[0]), StringComparison.Ordinal);
        Assert.EndsWith("of the 300 d 7 h before them nothing is known.", Plain(Verdict.Of(report)[3]), StringComparison.Ordinal);
        Assert.Contains("1\u202f187 to 1\u202f400 h", Verdict.Of(report)[1].Replace('\u00a0', ' '), StringComparison.Ordinal);
    }

    [Fact]
    public void A_change_within_its_interval_is_no_change() =>
        Assert.Contains("shows no change that can be told from chance", Verdict.Of(ConstructedReport.Full() with { Current = ConstructedReport.Trend(60, fallPerDay: 0) })[0], StringComparison.Ordinal);

    [Fact]
    public void Where_nothing_is_known_each_sentence_says_so() =>
        Assert.Equal(
            [
                "Of the tube’s current at fixed power nothing can be said: no steady current with the beam on is stored for this tube.",
                "The tube has 0.0 h of beam of the 8\u202f000 h (assumed) it is rated for; when it was put in is not stated.",
                "Whether it was run within limits cannot be said: no limit could be judged with the beam on.",
                "There is no sample of this machine in the time reported on.",
            ],
            Verdict.Of(ConstructedReport.Empty()).Select(Plain));

    private static string Plain(string sentence) => sentence.Replace('\u00a0', ' ');
}
