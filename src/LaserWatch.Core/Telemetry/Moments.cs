namespace LaserWatch.Telemetry;

/// <summary>Samples of several channels as a table: a row an instant, a column a channel, NaN where a channel told nothing at that instant.</summary>
/// <remarks>
/// Sensors that are read together fill whole rows, and who walks through years of them need not look at the channel and time of every value.
/// The instants rise strictly, and a row is all that was told at its own. The arrays are another's, and are used again: nothing of it may be kept.
/// </remarks>
public readonly struct Moments
{
    /// <summary>The most rows that one table has.</summary>
    public const int MostRows = 4096;

    private static readonly double[] Nothing = Silence();

    private readonly Channel[] _channels;
    private readonly long[] _times;
    private readonly double[][] _columns;
    private readonly int _begin;

    /// <param name="channels">By <see cref="Channel.Index"/>.</param>
    /// <param name="times">ns since 1970.</param>
    /// <param name="columns">One for each channel.</param>
    /// <param name="begin">The place of the first row in all arrays.</param>
    /// <exception cref="ArgumentOutOfRangeException">There are more rows than <see cref="MostRows"/>.</exception>
    public Moments(Channel[] channels, long[] times, double[][] columns, int begin, int count)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(count, MostRows);
        (_channels, _times, _columns, _begin, Count) = (channels, times, columns, begin, count);
    }

    /// <summary>The number of rows.</summary>
    public int Count { get; }

    public ReadOnlySpan<Channel> Channels => _channels;

    /// <summary>ns since 1970, rising.</summary>
    public ReadOnlySpan<long> Times => _times.AsSpan(_begin, Count);

    /// <summary>The value of one of <see cref="Channels"/>, by its place there.</summary>
    public double this[int place, int row] => _columns[place][_begin + row];

    /// <summary>The values of a channel, a row each; all NaN where the table has no such column.</summary>
    public ReadOnlySpan<double> Of(Channel channel)
    {
        var place = Array.IndexOf(_channels, channel);
        return place < 0 ? Nothing.AsSpan(0, Count) : _columns[place].AsSpan(_begin, Count);
    }

    public Moments Slice(int begin, int count) => new(_channels, _times, _columns, _begin + begin, count);

    private static double[] Silence()
    {
        var values = new double[MostRows];
        values.AsSpan().Fill(double.NaN);
        return values;
    }
}
