using System.Numerics;

namespace LaserWatch.Benchmarks;

/// <summary>Standard normal numbers from xoshiro256** (Blackman and Vigna 2018) by the polar method: the same from the same seed on every machine.</summary>
public sealed class Gaussian
{
    private ulong _a, _b, _c, _d;
    private double _spare = double.NaN;

    public Gaussian(int seed)
    {
        var state = (ulong)(uint)seed;
        _a = SplitMix(ref state);
        _b = SplitMix(ref state);
        _c = SplitMix(ref state);
        _d = SplitMix(ref state);
    }

    public double Next()
    {
        if (!double.IsNaN(_spare))
        {
            var spare = _spare;
            _spare = double.NaN;
            return spare;
        }

        double x, y, square;
        do
        {
            x = 2 * Uniform() - 1;
            y = 2 * Uniform() - 1;
            square = x * x + y * y;
        }
        while (square is >= 1 or 0);

        var factor = Math.Sqrt(-2 * Math.Log(square) / square);
        _spare = y * factor;
        return x * factor;
    }

    /// <summary>In [0, 1).</summary>
    public double Uniform()
    {
        var result = BitOperations.RotateLeft(_b * 5, 7) * 9;
        var shifted = _b << 17;
        _c ^= _a;
        _d ^= _b;
        _b ^= _c;
        _a ^= _d;
        _c ^= shifted;
        _d = BitOperations.RotateLeft(_d, 45);
        return (result >> 11) * (1.0 / (1ul << 53));
    }

    private static ulong SplitMix(ref ulong state)
    {
        var z = state += 0x9E3779B97F4A7C15;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }
}
