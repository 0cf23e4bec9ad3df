using LaserWatch.Reports;
using ScottPlot;

namespace LaserWatch.Plots;

/// <summary>The report's colours on white, for pictures. They differ in lightness too, for grey print and those who see no colours.</summary>
internal static class PlotColours
{
    public static readonly Color Ink = Color.FromHex(ReportColours.Print.Ink);
    public static readonly Color Quiet = Color.FromHex(ReportColours.Print.Quiet);
    public static readonly Color Rule = Color.FromHex(ReportColours.Print.Rule);
    public static readonly Color Accent = Color.FromHex(ReportColours.Print.Accent);
    public static readonly Color Dot = Color.FromHex(ReportColours.Print.Dot);
    public static readonly Color Limit = Color.FromHex(ReportColours.Print.Limit);
    public static readonly Color Mark = Color.FromHex(ReportColours.Print.Mark);
    public static readonly Color Grid = Rule.WithAlpha(0.4);
}
