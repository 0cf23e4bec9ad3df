namespace LaserWatch.Evaluation.Simulation;

/// <summary>Seeded random numbers, the same on every machine and runtime.</summary>
/// <remarks>
/// Generator xoshiro256** seeded by splitmix64 (Blackman and Vigna, "Scrambled linear pseudorandom number generators", 2018, from
/// memory); normal numbers by Marsaglia's polar method.
/// </remarks>
internal sealed class Noise
{
    private ulong _a, _b, _c, _d;
    private double _spare;
    private bool _hasSpare;

    public Noise(ulong seed) => (_a, _b, _c, _d) = (Mix(ref seed), Mix(ref seed), Mix(ref seed), Mix(ref seed));

    /// <summary>An independent stream for a part of the machine, so that a fault in one part leaves the others' numbers as they were.</summary>
    public Noise Branch(ulong part) => new(_a ^ (_b * 3) ^ (part * 0x9E3779B97F4A7C15));

    /// <summary>In [0, 1).</summary>
    public double Uniform() => (Next() >> 11) * (1.0 / (1UL << 53));

    public double Between(double from, double to) => from + ((to - from) * Uniform());

    public bool Chance(double probability) => probability > 0 && Uniform() < probability;

    public double Exponential(double mean) => -mean * Math.Log(1 - Uniform());

    /// <summary>A length that is never negative and sometimes long: its median, and the standard deviation of its logarithm.</summary>
    public double LogNormal(double median, double sigma) => median * Math.Exp(sigma * Normal());

    public double Normal()
    {
        if (_hasSpare)
        {
            _hasSpare = false;
            return _spare;
        }

        double x, y, square;
        do
        {
            x = (2 * Uniform()) - 1;
            y = (2 * Uniform()) - 1;
            square = (x * x) + (y * y);
        }
        while (square is >= 1 or 0);
        var scale = Math.Sqrt(-2 * Math.Log(square) / square);
        _spare = y * scale;
        _hasSpare = true;
        return x * scale;
    }

    private ulong Next()
    {
        var result = ulong.RotateLeft(_b * 5, 7) * 9;
        var t = _b << 17;
        _c ^= _a;
        _d ^= _b;
        _b ^= _c;
        _a ^= _d;
        _c ^= t;
        _d = ulong.RotateLeft(_d, 45);
        return result;
    }

    private static ulong Mix(ref ulong state)
    {
        state += 0x9E3779B97F4A7C15;
        var z = state;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }
}
