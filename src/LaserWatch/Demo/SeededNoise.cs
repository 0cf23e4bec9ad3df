namespace LaserWatch.Demo;

/// <summary>Random numbers that come again with the same seed, so that a run can be repeated to the bit.</summary>
public sealed class SeededNoise
{
    private readonly Random _random;
    private double _spareNormal = double.NaN;

    public SeededNoise(int seed) => _random = new Random(seed);

    /// <summary>A source of its own for another part, so that one part's use does not shift another's numbers.</summary>
    public SeededNoise Part(int number) => new(HashSeed(_random.Next(), number));

    public double Uniform(double from, double to) => from + ((to - from) * _random.NextDouble());

    public bool Chance(double probability) => _random.NextDouble() < probability;

    /// <summary>Normal with mean 0 and deviation 1.</summary>
    public double Normal()
    {
        if (!double.IsNaN(_spareNormal))
        {
            var spare = _spareNormal;
            _spareNormal = double.NaN;
            return spare;
        }

        // Marsaglia's polar method gives two at a time.
        double x, y, s;
        do
        {
            x = Uniform(-1, 1);
            y = Uniform(-1, 1);
            s = (x * x) + (y * y);
        }
        while (s is >= 1 or 0);
        var factor = Math.Sqrt(-2 * Math.Log(s) / s);
        _spareNormal = y * factor;
        return x * factor;
    }

    private static int HashSeed(int seed, int number) => unchecked((seed * 31) + (number * 7919)) & int.MaxValue;
}
