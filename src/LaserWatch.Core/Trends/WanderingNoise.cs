namespace LaserWatch.Trends;

/// <summary>Makes a series with wandering noise white: what mains, room and a warm tube do for hours, and what each point's own error adds.</summary>
/// <remarks>
/// The noise is an Ornstein–Uhlenbeck process (an AR(1) process at uneven times) seen through white measurement error; its innovations,
/// divided by their standard deviation, are independent with variance 1. Run over a regressor instead of the data, the same filter gives the
/// regressor of generalised least squares, because its gains do not depend on the data. Harvey, Forecasting, Structural Time Series Models
/// and the Kalman Filter (1989), section 3.4, from memory. Buffers are kept and grow with the longest series met.
/// </remarks>
public sealed class WanderingNoise
{
    private double[] _decay = [];
    private double[] _gain = [];
    private double[] _scale = [];

    /// <summary>How many points the filter stands for.</summary>
    public int Count { get; private set; }

    /// <summary>Sets the filter up for a series.</summary>
    /// <param name="days">Times, in days, rising.</param>
    /// <param name="variances">Variance of each point's own error, in the series' unit squared.</param>
    /// <param name="daysWithin">Over how many days a point is a mean; the wander of a mean of several days is their number times smaller, and its own.</param>
    /// <param name="wander">Standard deviation of the wander.</param>
    /// <param name="memoryDays">Time in which the wander's correlation falls to 1/e.</param>
    public void Prepare(ReadOnlySpan<double> days, ReadOnlySpan<double> variances, ReadOnlySpan<double> daysWithin, double wander, double memoryDays)
    {
        Count = days.Length;
        if (_decay.Length < Count)
            (_decay, _gain, _scale) = (new double[2 * Count], new double[2 * Count], new double[2 * Count]);
        var variance = wander * wander;
        var uncertain = variance;
        for (var i = 0; i < Count; i++)
        {
            _decay[i] = i == 0 ? 0 : Math.Exp(-(days[i] - days[i - 1]) / memoryDays);
            var ahead = variance + (_decay[i] * _decay[i] * (uncertain - variance));
            if (daysWithin[i] > 1)
            {
                _gain[i] = 0;
                _scale[i] = 1 / Math.Sqrt((variance / daysWithin[i]) + variances[i]);
                uncertain = variance;
                continue;
            }

            var total = ahead + variances[i];
            _gain[i] = ahead / total;
            _scale[i] = 1 / Math.Sqrt(total);
            uncertain = (1 - _gain[i]) * ahead;
        }
    }

    /// <summary>Whitens values that are zero before <paramref name="first"/>, up to but without <paramref name="end"/>.</summary>
    /// <param name="values">As many as the filter was set up for; may be <paramref name="white"/> itself.</param>
    /// <param name="white">Room for the answer; left alone before <paramref name="first"/>.</param>
    public void Whiten(ReadOnlySpan<double> values, Span<double> white, int first = 0, int end = int.MaxValue)
    {
        var state = 0.0;
        for (var i = first; i < Math.Min(Count, end); i++)
        {
            var ahead = _decay[i] * state;
            var innovation = values[i] - (_gain[i] == 0 ? 0 : ahead);
            white[i] = innovation * _scale[i];
            state = _gain[i] == 0 ? 0 : ahead + (_gain[i] * innovation);
        }
    }
}
