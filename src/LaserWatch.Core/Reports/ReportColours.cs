namespace LaserWatch.Reports;

/// <summary>The report's colours in one scheme, as <c>#rrggbb</c>; pictures of trends and comparisons take them too.</summary>
/// <remarks>
/// Found by search, and a test computes both: each text colour stands on each ground with a contrast of 4.5 to 1 at least (WCAG 2.1, 1.4.3),
/// shapes on the page with 3 to 1 (1.4.11); and any two colours that carry meaning are at least 15 apart by CIEDE2000, for normal
/// sight and for eyes without red or green cones (Machado and others 2009).
/// </remarks>
/// <param name="Paper">Ground of the page.</param>
/// <param name="Ink">Text.</param>
/// <param name="Quiet">Notes, captions, axis labels.</param>
/// <param name="Rule">Thin lines of tables and grids; never carries meaning alone.</param>
/// <param name="Accent">The line of a trend, the figure at the head, links.</param>
/// <param name="Dot">Single estimates.</param>
/// <param name="Limit">Limits and what is outside them.</param>
/// <param name="Mark">Marks of service.</param>
/// <param name="Band">Interval about a line: a ground.</param>
/// <param name="Gap">Time without data: a ground.</param>
public sealed record ReportColours(
    string Paper, string Ink, string Quiet, string Rule, string Accent, string Dot, string Limit, string Mark, string Band, string Gap)
{
    /// <summary>Dark on light.</summary>
    public static readonly ReportColours Light = new(
        "#fdfdfc", "#16191b", "#50565a", "#c4cacb", "#1f6b62", "#4a93bb", "#a3160f", "#33399a", "#d3e4e2", "#e2e4e4");

    /// <summary>Light on dark.</summary>
    public static readonly ReportColours Dark = new(
        "#14181a", "#e8ebea", "#a9b1b2", "#414749", "#63bda3", "#6083a8", "#fc805b", "#b7bff3", "#1c3b3a", "#2f3537");

    /// <summary>On white paper.</summary>
    public static readonly ReportColours Print = Light with { Paper = "#ffffff", Ink = "#000000", Quiet = "#43494c" };

    /// <summary>As custom properties of a style sheet.</summary>
    internal string Variables =>
        $"--paper:{Paper};--ink:{Ink};--quiet:{Quiet};--rule:{Rule};--accent:{Accent};--dot:{Dot};--limit:{Limit};--mark:{Mark};--band:{Band};--gap:{Gap}";
}
