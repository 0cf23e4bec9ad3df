using System.Globalization;

namespace LaserWatch.Life;

/// <summary>Drive current of 15 GaAs lasers at constant light, % above the first reading, every 250 h to 4000 h at 80 °C; beyond +10 % failed.</summary>
/// <remarks>W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data (1998). One of the sets of <see cref="OpenDataFolder"/>.</remarks>
internal static class LaserDegradationData
{
    public static IReadOnlyList<DegradationPath> ReadOrSkip()
    {
        var all = OpenDataFolder.Find();
        Skip.If(all is null, OpenDataFolder.Missing);
        var folder = Path.Combine(all, "gaas_laser");
        Skip.IfNot(Directory.Exists(folder), $"The open data set gaas_laser is not in {all}.");
        return [.. Directory.GetFiles(folder, "unit_*.csv").Order(StringComparer.Ordinal).Select(Read)];
    }

    // Thousands of hours, as in the published fits.
    private static DegradationPath Read(string file)
    {
        var rows = File.ReadLines(file).Skip(1).Select(line => line.Split(',')).ToList();
        var times = rows.ConvertAll(r => long.Parse(r[0], CultureInfo.InvariantCulture) / 3.6e9);
        return new(
            Path.GetFileNameWithoutExtension(file)[^3..], [.. times.Select(t => t - times[0])],
            [.. rows.Select(r => double.Parse(r[1], CultureInfo.InvariantCulture))]);
    }
}
