using System.Runtime.CompilerServices;
using System.Text;

namespace LaserWatch.Proof;

/// <summary>The example that is committed with the sources.</summary>
public class ExampleTests
{
    private const string Page = "two-year-tube.html";

    [Fact]
    public void The_committed_report_of_two_years_is_whole()
    {
        var report = FileVerifier.Verify(Path.Combine(Folder(), Page), VerificationDemands.None);

        Assert.Empty(report.Findings);
        Assert.True(report.IsWhole);
        Assert.Equal((60, 486), (report.Days, report.Head!.Size));
    }

    [Fact]
    public void With_one_byte_changed_in_a_sample_it_is_not_and_the_place_is_named()
    {
        var text = File.ReadAllText(Path.Combine(Folder(), Page));
        var place = text.LastIndexOf("tube_current=1", StringComparison.Ordinal) + "tube_current=1".Length;
        var changed = text[..place] + (text[place] == '5' ? '4' : '5') + text[(place + 1)..];

        var report = ReportVerifier.Verify(Encoding.UTF8.GetBytes(changed), VerificationDemands.None);

        Assert.False(report.IsWhole);
        Assert.Contains(report.Findings, finding => finding is { What: FindingKinds.Altered, Channel: "tube_current", Section: "annex" } && finding.Day == report.LastDay);
    }

    private static string Folder([CallerFilePath] string here = "") => Path.GetFullPath(Path.Combine(Path.GetDirectoryName(here)!, "..", "..", "example"));
}
