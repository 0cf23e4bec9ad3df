namespace LaserWatch.Life;

/// <summary>What the likelihood of an inverse-Gaussian process needs to know of one unit's steps.</summary>
internal sealed class StepSums
{
    private readonly double _growth;
    private readonly double _time;
    private readonly double _squares;
    private readonly double _constant;

    public StepSums(DegradationPath path)
    {
        foreach (var (time, growth) in path.Steps())
        {
            Count++;
            _growth += growth;
            _time += time;
            _squares += time * time / growth;
            _constant += Math.Log(time * time / (2 * Math.PI * growth * growth * growth)) / 2;
        }
    }

    public int Count { get; }

    /// <summary>Logarithm of the unit's own mean rate.</summary>
    public double LogRate => Math.Log(_growth / _time);

    /// <summary>Sum of (growth − rate·time)²/growth.</summary>
    public double Unevenness(double rate) => Math.Max(0, _growth - (2 * rate * _time) + (rate * rate * _squares));

    public double LogLikelihood(double rate, double evenness) =>
        _constant + (Count * Math.Log(evenness * rate * rate) / 2) - (evenness * Unevenness(rate) / 2);
}
