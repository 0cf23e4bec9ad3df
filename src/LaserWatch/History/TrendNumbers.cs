using System.Globalization;

namespace LaserWatch.History;

/// <summary>A trend's values as people read them: a health ratio in percent of the baseline, others in the channel's unit, with as many decimals as the errors are worth.</summary>
internal sealed class TrendNumbers
{
    private readonly double _scale;
    private readonly string _format;
    private readonly string _fine;

    public TrendNumbers(ChannelTrend trend)
    {
        _scale = trend.IsHealthRatio ? 100 : 1;
        Unit = trend.IsHealthRatio ? "%" : trend.Unit;
        UnitInWords = trend.IsHealthRatio ? "% of the baseline" : trend.Unit;
        var errors = trend.Days.Select(day => day.Error * _scale).Where(error => error > 0).Order().ToList();
        // Two digits of the error; of what stands still to the last bit, as many as it has.
        var error = errors.Count > 0 ? errors[errors.Count / 2] : 0.01;
        var decimals = Math.Clamp((int)Math.Ceiling(1 - Math.Log10(error) - 0.3), 0, 6);
        (_format, _fine) = (Format(decimals), Format(Math.Min(decimals + 1, 6)));
    }

    /// <summary>Such as <c>%</c> or <c>°C</c>; may be empty.</summary>
    public string Unit { get; }

    /// <summary>Such as <c>% of the baseline</c>.</summary>
    public string UnitInWords { get; }

    /// <summary>In the unit as shown.</summary>
    public double Shown(double value) => value * _scale;

    public string Value(double value) => Shown(value).ToString(_format, CultureInfo.InvariantCulture);

    /// <summary>A level that somebody set, as it was set.</summary>
    public string Plain(double value) => $"{Shown(value).ToString("0.######", CultureInfo.InvariantCulture)} {Unit}".TrimEnd();

    /// <summary>An error, or a change: one decimal more, and never <c>-0</c>.</summary>
    public string Fine(double value) => Shown(value).ToString(_fine, CultureInfo.InvariantCulture) is var text && text.Trim('-', '0', '.').Length == 0 ? text.TrimStart('-') : text;

    /// <summary>With its sign.</summary>
    public string Change(double value) => Fine(value) is var text && !text.StartsWith('-') && text.Trim('0', '.').Length > 0 ? "+" + text : text;

    public static string P(double p) => p < 0.001 ? "p < 0.001" : string.Create(CultureInfo.InvariantCulture, $"p = {p:0.000}");

    public static string Percent(double confidence) => string.Create(CultureInfo.InvariantCulture, $"{confidence * 100:0.#} %");

    private static string Format(int decimals) => decimals == 0 ? "0" : "0." + new string('0', decimals);
}
