namespace LaserWatch.Benchmarks;

/// <summary>Stationary AR(1) noise of unit variance, of which a share may be white sensor noise.</summary>
public sealed class Noise(Gaussian source, double phi, double white = 0)
{
    private readonly double _step = Math.Sqrt(1 - phi * phi);
    private readonly double _coloured = Math.Sqrt(1 - white);
    private readonly double _white = Math.Sqrt(white);
    private double _state = source.Next();

    public double Next()
    {
        _state = phi * _state + _step * source.Next();
        return _white > 0 ? _coloured * _state + _white * source.Next() : _state;
    }
}
