namespace LaserWatch.Statistics;

/// <summary>The weight of a new value in an exponentially fading mean, 1 − e^(−step/memory); the last one is remembered, since sensors speak at even steps.</summary>
internal struct Fading(double memorySeconds)
{
    private double _step = double.NaN;
    private double _weight;

    public double Weight(double stepSeconds)
    {
        if (stepSeconds != _step)
            (_step, _weight) = (stepSeconds, 1 - Math.Exp(-stepSeconds / memorySeconds));
        return _weight;
    }
}
