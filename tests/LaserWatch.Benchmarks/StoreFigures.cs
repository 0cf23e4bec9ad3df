namespace LaserWatch.Benchmarks;

/// <summary>What one way of storing came to.</summary>
/// <param name="Bytes">Of the whole file after a checkpoint.</param>
/// <param name="LiveBytes">The same while the last hour was not yet packed; 0 where nothing is ever packed.</param>
/// <param name="WriteSeconds">For taking all of them.</param>
/// <param name="PackSeconds">For packing all of them; 0 where nothing is packed.</param>
/// <param name="ScanSeconds">For reading all of them once.</param>
/// <param name="ChannelSeconds">For reading one of the channels.</param>
public sealed record StoreFigures(
    string Name, long Samples, long ChannelSamples, long Bytes, long LiveBytes, double WriteSeconds, double PackSeconds, double ScanSeconds, double ChannelSeconds)
{
    public double BytesPerSample => (double)Bytes / Samples;

    public double WrittenPerSecond => Samples / WriteSeconds;

    public double PackedPerSecond => PackSeconds > 0 ? Samples / PackSeconds : double.NaN;

    public double ScannedPerSecond => Samples / ScanSeconds;

    public double ChannelPerSecond => ChannelSamples / ChannelSeconds;
}
