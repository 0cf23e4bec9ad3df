using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Exports;

/// <summary>Names of columns that every program takes: the channel and its unit in plain letters, such as <c>coolant_in_degC</c>.</summary>
internal static class ColumnName
{
    public static string Of(Channel channel)
    {
        if (channel.Unit.Length == 0)
            return channel.Name;
        var name = new StringBuilder(channel.Name).Append('_');
        foreach (var letter in channel.Unit)
        {
            _ = letter switch
            {
                '%' => name.Append(channel.Unit == "%" ? "percent" : "percent_"),
                '°' => name.Append("deg"),
                'µ' or 'μ' => name.Append('u'),
                '/' => name.Append("_per_"),
                '²' => name.Append('2'),
                '³' => name.Append('3'),
                _ when char.IsAsciiLetterOrDigit(letter) => name.Append(letter),
                _ => name.Append('_'),
            };
        }

        return name.ToString();
    }
}
