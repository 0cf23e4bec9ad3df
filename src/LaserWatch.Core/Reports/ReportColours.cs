namespace LaserWatch.Reports;

/// <summary>The report's colours in one scheme, as <c>#rrggbb</c>. Each text colour stands on both grounds with a contrast of 4.5 to 1 at least (WCAG 2.1, 1.4.3); a test computes it.</summary>
/// <param name="Paper">Ground of the page.</param>
/// <param name="Panel">Ground of the summary and of figures.</param>
/// <param name="Ink">Text.</param>
/// <param name="Quiet">Notes, captions, axis labels.</param>
/// <param name="Rule">Thin lines of tables and grids; never carries meaning alone.</param>
/// <param name="Accent">The line of a trend, links.</param>
/// <param name="Dot">Single estimates.</param>
/// <param name="Limit">Limits and what is outside them.</param>
/// <param name="Mark">Marks of service.</param>
/// <param name="Band">Interval about a line: a ground, with no text on it but <paramref name="Ink"/>.</param>
/// <param name="Gap">Time without data: a ground.</param>
internal sealed record ReportColours(
    string Paper, string Panel, string Ink, string Quiet, string Rule, string Accent, string Dot, string Limit, string Mark, string Band, string Gap)
{
    public static readonly ReportColours Light = new(
        "#fffefb", "#f5f3ec", "#1c1b19", "#57534b", "#cdc7b8", "#184e77", "#44709a", "#a1221c", "#7a4a00", "#c9dbe9", "#e4dfd2");

    public static readonly ReportColours Dark = new(
        "#161719", "#1f2124", "#ece9e2", "#b1aca1", "#454749", "#8fc1ea", "#7fa8cb", "#f2938a", "#e3b062", "#284156", "#34363a");

    /// <summary>Ink on white, for print.</summary>
    public static readonly ReportColours Print = Light with { Paper = "#ffffff", Panel = "#f6f5f1", Ink = "#000000", Quiet = "#45423c" };

    /// <summary>As custom properties of a style sheet.</summary>
    public string Variables =>
        $"--paper:{Paper};--panel:{Panel};--ink:{Ink};--quiet:{Quiet};--rule:{Rule};--accent:{Accent};--dot:{Dot};--limit:{Limit};--mark:{Mark};--band:{Band};--gap:{Gap}";
}
