using System.Globalization;

namespace LaserWatch.History;

/// <summary>How a trend's figures come about, in plain words: said once, for table, report and JSON alike.</summary>
internal static class TrendWords
{
    public const string TubeIsNotLight =
        "Tube current is not light: a supply that still regulates holds the current while the tube's light fades. A steady current is no proof of a good tube, and a falling one none of a bad tube; only a test cut or a power probe tells.";

    public static IReadOnlyList<string> OfHealth(Rules.TubeCurrentOptions options, double? power, double wander) =>
    [
        string.Create(CultureInfo.InvariantCulture, $"A block is up to thirty currents, or a minute of them, at one power of {options.LeastPowerPercent:0.#} % or more with the beam on and steady for {options.SettleSeconds:0.#} s; runs known to engrave are left out."),
        string.Create(CultureInfo.InvariantCulture, $"Its ratio is its current over the tube's baseline at that power: the median of the blocks of the first {options.LearnBeamHours:0.#} beam hours that are stored of the tube. What the coolant is seen to do to this machine's current is taken off."),
        power is { } one
            ? string.Create(CultureInfo.InvariantCulture, $"A day's estimate is the robust mean of its blocks within one point of {one:0.#} % power.")
            : "A day's estimate is the robust mean of its blocks at each power, the powers weighted by their certainty and by how far they differ.",
        string.Create(CultureInfo.InvariantCulture, $"Its error takes in how far the machine strays from one day to the next (mains, room, warm tube): {wander * 100:0.0} % here."),
    ];

    public static IReadOnlyList<string> OfChannel(bool withBeam) =>
    [
        withBeam
            ? "A day's estimate is the median of its minute means, of samples with the beam on only."
            : "A day's estimate is the median of its minute means.",
        "Its error takes in how far days stray from their neighbours.",
    ];

    public static IReadOnlyList<string> OfLine(bool health, double confidence)
    {
        var percent = (confidence * 100).ToString("0.#", CultureInfo.InvariantCulture);
        return
        [
            $"The line is the median of the slopes between all pairs of days (Theil-Sen), so that single wild days do not move it; the {percent} % interval is Sen's, widened where a day resembles the one before. \"Sure\" means that a rank test for a trend (Mann-Kendall, with the same correction) gives chance at most one in twenty, and the interval leaves out zero.",
            health
                ? $"After a fall at once, or a rise such as a repair makes, only the days since count for line and projection. The projection is the time at which a process with this drift, wander and error of measurement first reaches the threshold: its median and its {percent} % prediction interval."
                : $"A date is given only where the trend is sure: where the line, and the ends of its {percent} % interval, meet the nearest threshold ahead. It holds only as long as things go on as they went.",
        ];
    }
}
