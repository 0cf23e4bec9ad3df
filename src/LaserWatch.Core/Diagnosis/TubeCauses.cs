using LaserWatch.Trends;

namespace LaserWatch.Diagnosis;

/// <summary>Ranks why the tube's current fell, by what the other channels and the log say.</summary>
/// <remarks>
/// Bayes' rule with symptoms taken for independent given the cause. Prior weights and likelihoods are common practice and reasoning from a
/// current-regulated supply on a tube of negative resistance; no published source. None is 0 or 1, so that no single symptom decides alone.
/// <para>
/// The honest limit: a supply that still regulates holds the current while the tube's light fades. So a fall is no proof of an aged tube,
/// and no fall is no proof of a good one; only a test cut or a power probe shows the light.
/// </para>
/// </remarks>
public static class TubeCauses
{
    /// <summary>Said wherever causes are ranked.</summary>
    public const string Limit = "current alone cannot clear tube or supply: a supply that still regulates holds the current while the light fades; a test cut or a power probe is the only way to know";

    /// <summary>A symptom must differ by more than its own error, and by a fifth of the fall, to count.</summary>
    private const double ModelError = 0.2;
    private const double HotCelsius = 30;

    // In the order of the enum: ageing tube, failing supply, sensor or wiring, command path, low mains, hot coolant, leakage.
    private static readonly double[] Prior = [0.34, 0.25, 0.15, 0.08, 0.08, 0.05, 0.05];
    private static readonly double[] AtOnce = [0.05, 0.40, 0.35, 0.45, 0.30, 0.05, 0.30];
    private static readonly double[] Slowly = [0.70, 0.35, 0.20, 0.05, 0.10, 0.20, 0.15];
    private static readonly double[] OnlyNearTheTop = [0.75, 0.40, 0.02, 0.05, 0.90, 0.10, 0.10];
    private static readonly double[] InProportion = [0.25, 0.50, 0.60, 0.93, 0.08, 0.88, 0.50];
    private static readonly double[] BySameMilliamps = [0.02, 0.10, 0.38, 0.02, 0.02, 0.02, 0.40];
    private static readonly double[] ZeroMoved = [0.05, 0.05, 6.0, 0.05, 0.05, 0.05, 0.30];
    private static readonly double[] ZeroStands = [1.1, 1.1, 0.6, 1.1, 1.1, 1.1, 1.0];
    private static readonly double[] CoolantIsHot = [0.8, 0.8, 0.8, 0.8, 0.8, 8.0, 0.8];
    private static readonly double[] CoolantAsEver = [1.0, 1.0, 1.0, 1.0, 1.0, 0.05, 1.0];
    private static readonly double[] MoreRagged = [1.6, 2.0, 1.2, 0.7, 0.8, 0.7, 2.0];
    private static readonly double[] AsSmoothAsEver = [0.9, 0.8, 1.0, 1.1, 1.1, 1.1, 0.7];
    private static readonly double[] YoungTube = [0.4, 1, 1, 1, 1, 1, 1];
    private static readonly double[] OldTube = [2.0, 1, 1, 1, 1, 1, 1];
    private static readonly double[] AtAService = [0.3, 0.7, 4.0, 2.5, 0.5, 0.5, 1.5];
    private static readonly double[] TestCutWentThrough = [0.25, 0.25, 6.0, 0.25, 0.25, 0.25, 0.25];
    private static readonly double[] TestCutFailed = [1.2, 1.2, 0.15, 1.2, 1.2, 1.2, 1.2];

    /// <summary>All causes, the likeliest first.</summary>
    public static IReadOnlyList<RankedTubeCause> Rank(TubeSymptoms symptoms)
    {
        var weights = (double[])Prior.Clone();
        WeighCourse(weights, symptoms.Change);
        WeighPowers(weights, symptoms);
        WeighZero(weights, symptoms);
        WeighCoolant(weights, symptoms);
        if (symptoms.Raggedness is { } raggedness)
            Multiply(weights, raggedness > 1.6 ? MoreRagged : AsSmoothAsEver);
        if (symptoms.LifeUsed is { } used)
            Mix(weights, YoungTube, OldTube, Math.Clamp((used - 0.3) / 0.5, 0, 1));
        if (symptoms.ServicedAtChange is not null && symptoms.Change.Kind == ChangeKind.Step)
            Multiply(weights, AtAService);
        if (symptoms.TestCutGood is { } good)
            Multiply(weights, good ? TestCutWentThrough : TestCutFailed);

        var total = weights.Sum();
        return [.. weights.Select((w, i) => new RankedTubeCause((TubeCause)i, w / total)).OrderByDescending(c => c.Weight)];
    }

    private static void WeighCourse(double[] weights, ChangeFinding change)
    {
        var changed = change.Step + change.Ramp;
        if (change.Kind is ChangeKind.Unknown or ChangeKind.None || changed <= 0)
            return;
        Mix(weights, Slowly, AtOnce, change.Step / changed);
    }

    // Clipping at the supply's voltage limit, a common factor, or a common offset in mA: each predicts the fall at lower powers.
    private static void WeighPowers(double[] weights, TubeSymptoms symptoms)
    {
        if (symptoms.Top is not { } top || symptoms.Lower is not { } lower || top.Fall <= 2 * top.Error)
            return;
        var near = Likelihood(lower, 0.25 * top.Fall, top);
        var factor = Likelihood(lower, top.Fall, top);
        var offset = Likelihood(lower, top.Fall * top.BaselineMilliamps / lower.BaselineMilliamps, top);
        var sum = near + factor + offset;
        for (var i = 0; i < weights.Length; i++)
            weights[i] *= ((near * OnlyNearTheTop[i]) + (factor * InProportion[i]) + (offset * BySameMilliamps[i])) / sum;
    }

    private static double Likelihood(PowerFall seen, double predicted, PowerFall top)
    {
        var own = Math.Max(ModelError * top.Fall, 0.003);
        var error = Math.Sqrt((seen.Error * seen.Error) + (top.Error * top.Error) + (own * own));
        var z = (seen.Fall - predicted) / error;
        // A floor: no model is so sure that another could not have made the reading.
        return Math.Exp(-0.5 * z * z) + 0.01;
    }

    private static void WeighZero(double[] weights, TubeSymptoms symptoms)
    {
        if (symptoms.ZeroShift is not { } zero)
            return;
        var milliamps = symptoms.Fall * (symptoms.Top?.BaselineMilliamps ?? 18);
        var explains = zero.Milliamps < -3 * zero.Error && zero.Milliamps < -0.4 * milliamps;
        Multiply(weights, explains ? ZeroMoved : ZeroStands);
    }

    private static void WeighCoolant(double[] weights, TubeSymptoms symptoms)
    {
        if (symptoms.CoolantCelsius is not { } now)
            return;
        var warmer = symptoms.CoolantAtBaselineCelsius is { } then ? now - then : 0;
        if (-symptoms.CoolantEffect > 0.4 * symptoms.Fall || (now > HotCelsius && warmer > 4))
            Multiply(weights, CoolantIsHot);
        else if (warmer < 3)
            Multiply(weights, CoolantAsEver);
    }

    private static void Multiply(double[] weights, double[] factors)
    {
        for (var i = 0; i < weights.Length; i++)
            weights[i] *= factors[i];
    }

    // The likelihood of a symptom that is itself only partly sure.
    private static void Mix(double[] weights, double[] no, double[] yes, double share)
    {
        for (var i = 0; i < weights.Length; i++)
            weights[i] *= ((1 - share) * no[i]) + (share * yes[i]);
    }
}
