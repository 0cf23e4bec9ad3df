namespace LaserWatch.Storage.Packing;

/// <summary>The summaries of minutes whose samples are gone. The format stands in <see cref="ChunkFormat"/>.</summary>
internal static class PackedMinutes
{
    /// <param name="minutes">Ascending, those without samples left out.</param>
    public static void Write(PackWriter to, IReadOnlyList<(long Minute, RollUpSum Sum)> minutes)
    {
        PackedTimes.Write(to, minutes.Select(entry => entry.Minute).ToArray());
        PackedValues.Write(to, minutes.Select(entry => (double)entry.Sum.Count).ToArray());
        PackedValues.Write(to, minutes.Select(entry => entry.Sum.Min).ToArray());
        PackedValues.Write(to, minutes.Select(entry => entry.Sum.Mean).ToArray());
        PackedValues.Write(to, minutes.Select(entry => entry.Sum.Max).ToArray());
    }

    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static List<(long Minute, RollUpSum Sum)> Read(ref PackReader from)
    {
        var count = PackedTimes.ReadCount(ref from);
        var minutes = new long[count];
        PackedTimes.Read(ref from, minutes);
        var columns = new double[4][];
        for (var column = 0; column < columns.Length; column++)
        {
            columns[column] = new double[count];
            PackedValues.Read(ref from, columns[column]);
        }

        var read = new List<(long Minute, RollUpSum Sum)>(count);
        for (var i = 0; i < count; i++)
            read.Add((minutes[i], new RollUpSum((long)columns[0][i], columns[1][i], columns[2][i], columns[3][i])));
        return read;
    }
}
