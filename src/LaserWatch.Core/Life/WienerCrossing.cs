namespace LaserWatch.Life;

/// <summary>When a wandering fall whose level and drift are known only so well first reaches a threshold: a mixture of first passages.</summary>
/// <remarks>
/// For one diffusion, level and drift are jointly Gaussian. Over the drift the first-passage probability has a closed form; over the level
/// it is summed at Gauss–Hermite points. C.-Y. Peng and S.-T. Tseng, IEEE Trans. Reliab. 58 (2009) 444, and X.-S. Si et al., Eur. J. Oper. Res. 213 (2011) 1 (from
/// memory; checked against direct integration over level and drift). The tilted tail is written so that a small diffusion does not overflow.
/// </remarks>
internal sealed class WienerCrossing
{
    // Gauss–Hermite for the normal distribution, 7 points (computed: roots of the seventh probabilists' Hermite polynomial).
    private static readonly double[] Points = [-3.7504397177257425, -2.3667594107345412, -1.1544053947399682, 0, 1.1544053947399682, 2.3667594107345412, 3.7504397177257425];
    private static readonly double[] Weights = [0.0005482688559722, 0.0307571239675865, 0.2401231786050127, 0.4571428571428571, 0.2401231786050127, 0.0307571239675865, 0.0005482688559722];

    private readonly List<Part> _parts = [];
    private readonly List<Part> _byWeight = [];
    private double _weight;

    /// <summary>Adds what holds with a weight, for one diffusion.</summary>
    public void Add(WienerDegradation state, double diffusion, double threshold, double weight)
    {
        var deviation = Math.Sqrt(state.LevelVariance);
        var pull = state.Covariance / state.LevelVariance;
        var spare = Math.Max(0, state.DriftVariance - (state.Covariance * pull));
        for (var i = 0; i < Points.Length; i++)
        {
            var level = state.Level + (deviation * Points[i]);
            _parts.Add(new(
                level - threshold, state.Drift + (pull * (level - state.Level)), spare, diffusion * diffusion, weight * Weights[i]));
            _weight += weight * Weights[i];
        }
    }

    /// <summary>Probability that the threshold is reached within a time from the last reading.</summary>
    public double Probability(double ahead)
    {
        var sum = 0.0;
        foreach (var part in _parts)
            sum += part.Weight * part.Probability(ahead);
        return sum;
    }

    /// <summary>The time ahead within which the threshold is reached with a probability; null where that lies beyond <paramref name="farthest"/>.</summary>
    public double? Quantile(double probability, double farthest)
    {
        if (!IsReached(farthest, probability))
            return null;
        var (low, high) = (0.0, farthest);
        for (var i = 0; i < 60 && high - low > 1e-5 * high; i++)
        {
            var middle = low == 0 && i < 30 ? high / 4 : (low + high) / 2;
            if (IsReached(middle, probability))
                high = middle;
            else
                low = middle;
        }

        return high;
    }

    /// <summary>Whether <see cref="Probability"/> is at least so much; heavy parts are asked first, until the rest cannot change the answer.</summary>
    internal bool IsReached(double ahead, double probability)
    {
        // Sums in another order differ in their last digits: what is nearer than this is summed up in the usual order.
        const double Rounding = 1e-9;
        var (sum, rest) = (0.0, _weight);
        foreach (var part in ByWeight())
        {
            sum += part.Weight * part.Probability(ahead);
            rest -= part.Weight;
            if (sum > probability + Rounding)
                return true;
            if (sum + rest < probability - Rounding)
                return false;
        }

        return Probability(ahead) >= probability;
    }

    private List<Part> ByWeight()
    {
        if (_byWeight.Count != _parts.Count)
        {
            _byWeight.Clear();
            _byWeight.AddRange(_parts);
            _byWeight.Sort(static (a, b) => b.Weight.CompareTo(a.Weight));
        }

        return _byWeight;
    }

    private readonly record struct Part(double Distance, double Drift, double DriftVariance, double DiffusionVariance, double Weight)
    {
        public double Probability(double ahead)
        {
            if (Distance <= 0)
                return 1;
            if (ahead <= 0)
                return 0;
            var variance = (DriftVariance * ahead * ahead) + (DiffusionVariance * ahead);
            if (variance <= 0)
                return Drift * ahead >= Distance ? 1 : 0;
            var root = Math.Sqrt(variance);
            var a = ((Drift * ahead) - Distance) / root;
            if (DiffusionVariance <= 0)
                return MillsRatio.Cumulative(a);
            var b = (((2 * DriftVariance * Distance * ahead) / DiffusionVariance) + (Drift * ahead) + Distance) / root;
            return Math.Min(1, MillsRatio.Cumulative(a) + MillsRatio.Tilted(a, b));
        }
    }
}
