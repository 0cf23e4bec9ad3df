namespace LaserWatch.Trends;

/// <summary>How a series changed, if it did. <c>default</c>: nothing was judged.</summary>
public enum ChangeKind
{
    Unknown,
    None,
    Step,
    Ramp,
}

/// <summary>What comparing "no change", "a step down" and "a ramp down" makes of a series.</summary>
/// <param name="Kind">The likeliest of the three.</param>
/// <param name="None">Posterior weight of no change; the three sum to 1.</param>
/// <param name="Step">Posterior weight of one step.</param>
/// <param name="Ramp">Posterior weight of one ramp that goes on to the end.</param>
/// <param name="BeganDays">When the likeliest change began, in the series' days.</param>
/// <param name="BeganFromDays">Start of the 95 % interval of that.</param>
/// <param name="BeganToDays">End of it.</param>
/// <param name="Before">Level before the change.</param>
/// <param name="Now">Level at the end, averaged over the three models.</param>
/// <param name="NowError">Standard error of <paramref name="Now"/>, with what is not known of the model.</param>
/// <param name="Fall">From <paramref name="Before"/> to now under the likeliest change; positive is down.</param>
/// <param name="FallError">Standard error of <paramref name="Fall"/>.</param>
/// <param name="Evidence">Log-likelihood ratio of the best-fitting change against none; for normal noise, half a squared z-score.</param>
public readonly record struct ChangeFinding(
    ChangeKind Kind, double None, double Step, double Ramp, double BeganDays, double BeganFromDays, double BeganToDays,
    double Before, double Now, double NowError, double Fall, double FallError, double Evidence);
