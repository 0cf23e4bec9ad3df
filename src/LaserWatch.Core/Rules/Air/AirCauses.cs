using System.Globalization;
using LaserWatch.Models;
using MathNet.Numerics.Distributions;

namespace LaserWatch.Rules;

/// <summary>What is seen of a trouble with the air.</summary>
/// <param name="PressureRatio">Gauge pressure over what it would be if all were well.</param>
/// <param name="ConductanceRatio">The nozzle's sonic conductance, from flow and pressure, over its usual one; null without flow.</param>
/// <param name="Onset">How it began.</param>
/// <param name="Swing">Half the height of the compressor's sawtooth over the good pressure; 0 where none is known.</param>
/// <param name="HasFlow">A flow sensor is fitted, though it may not have spoken in time.</param>
public readonly record struct AirSignature(
    double PressureRatio, double? ConductanceRatio, AirOnset Onset, double Swing = 0, bool HasFlow = false);

/// <summary>One possible cause and its weight; the weights of a ranking add up to 1.</summary>
public readonly record struct AirCause(string Name, double Weight);

/// <summary>Ranks what may be wrong with the air by its signature in pressure, conductance and onset.</summary>
/// <remarks>
/// Bayes' rule with independent symptoms. How causes show in pressure and conductance follows from ISO 6358 for a regulator, a hose of
/// C = 1 dm³/(s·bar) and a nozzle of 0.35: a supply or a hose that gives less lowers pressure and flow and leaves the nozzle's conductance; a nozzle
/// half blocked halves the conductance and raises the pressure by 5 %; a lost nozzle gives four times the conductance at half the pressure; a
/// leak lies between. How often each happens and how it begins is common practice without a source.
/// </remarks>
public static class AirCauses
{
    public const string SupplyLoss = "supply-loss";
    public const string KinkUpstream = "kink-upstream";
    public const string FilterClogged = "filter-clogged";
    public const string Leak = "leak";
    public const string NozzleObstructed = "nozzle-obstructed";
    public const string NozzleMissing = "nozzle-missing";
    public const string RegulatorSet = "regulator-set";
    public const string SawtoothCompressor = "sawtooth-compressor";

    private const double LeastWeight = 0.03;

    /// <summary>No symptom rules a cause out wholly: hoses and sensors differ.</summary>
    private const double LeastDensity = 0.02;

    private static readonly Model[] Models =
    [
        new(SupplyLoss, 0.25, new(0.25, 0.20, 0.40, 0.20), AnyFall, Unchanged, "the compressor or pump gives less, or the tank runs empty"),
        new(KinkUpstream, 0.20, new(0.20, 0.70, 0.06, 0.04), AnyFall, Unchanged, "the hose before the sensor is kinked or crushed"),
        new(FilterClogged, 0.08, new(0.10, 0.01, 0.05, 0.80), SmallFall, Unchanged, "the filter or water trap before the sensor is clogging"),
        new(Leak, 0.11, new(0.25, 0.45, 0.12, 0.18), MiddleFall, MoreOpen, "a fitting or hose leaks after the regulator"),
        new(NozzleMissing, 0.04, new(0.40, 0.58, 0.01, 0.01), NozzleOffFall, WideOpen, "the nozzle or the hose at the head is off"),
        new(NozzleObstructed, 0.25, new(0.25, 0.25, 0.20, 0.30), SmallRise, LessOpen, "the nozzle, or the hose after the sensor, is obstructed"),
        new(RegulatorSet, 0.20, new(0.85, 0.11, 0.02, 0.02), Set, Unchanged, "the regulator is set differently"),
    ];

    /// <summary>The causes that fit, likeliest first.</summary>
    public static IReadOnlyList<AirCause> Rank(in AirSignature seen)
    {
        var logPressure = Math.Log(Math.Max(seen.PressureRatio, 0.02));
        List<AirCause> causes = [];
        foreach (var model in Models)
        {
            var weight = model.Prior * model.Onsets.Of(seen.Onset) * Math.Max(model.Pressure(logPressure), LeastDensity);
            if (seen.ConductanceRatio is { } ratio)
                weight *= Math.Max(model.Conductance(Math.Log(Math.Max(ratio, 1e-3))), LeastDensity);
            causes.Add(new(model.Name, weight));
        }

        // Its trough passes the limit and its crest does not: seen as a swing that explains the distance.
        if (seen.Swing >= 0.02)
        {
            var density = Normal.PDF(0, 0.4 * seen.Swing, Math.Max(0, Math.Abs(seen.PressureRatio - 1) - seen.Swing));
            causes.Add(new(SawtoothCompressor, 0.2 * Onsets.Unknown * density));
        }

        var sum = causes.Sum(cause => cause.Weight);
        return
        [
            .. causes.Select(cause => cause with { Weight = Math.Round(cause.Weight / sum, 2) })
                .Where(cause => cause.Weight >= LeastWeight).OrderByDescending(cause => cause.Weight),
        ];
    }

    /// <summary>Such as <c>kink-upstream 0.55, supply-loss 0.25, leak 0.2</c>.</summary>
    public static string Weights(IReadOnlyList<AirCause> causes) =>
        string.Join(", ", causes.Select(cause => string.Create(CultureInfo.InvariantCulture, $"{cause.Name} {cause.Weight:0.##}")));

    /// <summary>The likeliest cause in words, with the next where it comes near.</summary>
    public static string InWords(IReadOnlyList<AirCause> causes)
    {
        var words = string.Create(CultureInfo.InvariantCulture, $"likeliest ({100 * causes[0].Weight:0} %): {Words(causes[0].Name)}");
        return causes.Count > 1 && causes[1].Weight > causes[0].Weight / 2
            ? string.Create(CultureInfo.InvariantCulture, $"{words}; or ({100 * causes[1].Weight:0} %) {Words(causes[1].Name)}")
            : words;
    }

    /// <summary>The observation that would tell the likeliest causes apart; null where one of them stands out.</summary>
    public static string? ToldApartBy(IReadOnlyList<AirCause> causes, in AirSignature seen)
    {
        if (causes.Count < 2 || causes[0].Weight > 0.95)
            return null;
        var names = causes.Where(cause => cause.Weight >= 0.05).Select(cause => cause.Name).ToHashSet(StringComparer.Ordinal);
        List<string> ways = [];
        if (names.Overlaps([SupplyLoss, RegulatorSet]) && names.Overlaps([KinkUpstream, FilterClogged, Leak, NozzleMissing]))
            ways.Add("the regulator's own gauge: low too means the supply or its setting; as always means the line after it");
        if (names.Contains(SupplyLoss) && names.Contains(RegulatorSet))
            ways.Add("the tank's gauge: low means the compressor");
        if (names.Contains(NozzleObstructed) && names.Contains(RegulatorSet))
            ways.Add("the regulator's own gauge: up too means it was set; as always means the nozzle");
        if (seen.ConductanceRatio is null && names.Overlaps([Leak, NozzleMissing, NozzleObstructed]))
            ways.Add(seen.HasFlow ? "the flow, once its usual is known" : "a flow sensor, which this machine lacks: more flow means a leak or a lost nozzle, less at equal pressure an obstruction");
        if (names.Contains(Leak) || names.Contains(NozzleMissing))
            ways.Add("listen for a hiss along the hose and look at the nozzle");
        return ways.Count == 0 ? null : string.Join("; ", ways);
    }

    private static string Words(string name) =>
        Array.Find(Models, model => model.Name == name)?.Words ?? "the compressor's swing, with a setting too near the limit";

    // Densities of the natural logarithm of a ratio. Of falls without a size of their own, small ones are the more frequent.
    private static double AnyFall(double x) => x < 0.01 ? (0.7 * 2 * Math.Exp(2 * Math.Min(x, 0))) + 0.1 : 0;

    private static double SmallFall(double x) => x < 0.01 ? 8 * Math.Exp(8 * Math.Min(x, 0)) : 0;

    private static double MiddleFall(double x) => x < 0.01 ? 2 * Normal.PDF(0, 0.3, x) : 0;

    private static double NozzleOffFall(double x) => Normal.PDF(-0.75, 0.3, x);

    private static double SmallRise(double x) => x > -0.01 ? 12 * Math.Exp(-12 * Math.Max(x, 0)) : 0;

    // Near the wanted value by a hand's scatter, or anywhere, as for another job.
    private static double Set(double x) => (0.7 * Normal.PDF(0, 0.15, x)) + (x > -1.6 ? 0.25 : 0);

    private static double Unchanged(double x) => Normal.PDF(0, 0.05, x);

    private static double MoreOpen(double x) => x > 0 ? 2 * Normal.PDF(0, 0.6, x) * (1 - Math.Exp(-x / 0.05)) : 0;

    private static double WideOpen(double x) => Normal.PDF(1.39, 0.45, x);

    private static double LessOpen(double x) => x < 0 ? Math.Max(0.3, 1.2 * Math.Exp(1.2 * x)) * (1 - Math.Exp(x / 0.05)) : 0;

    /// <summary>How likely a cause begins so.</summary>
    private readonly record struct Onsets(double BetweenRuns, double Sudden, double Gradual, double Creeping)
    {
        public const double Unknown = 0.25;

        public double Of(AirOnset onset) => onset switch
        {
            AirOnset.BetweenRuns => BetweenRuns,
            AirOnset.Sudden => Sudden,
            AirOnset.Gradual => Gradual,
            AirOnset.Creeping => Creeping,
            _ => Unknown,
        };
    }

    private sealed record Model(
        string Name, double Prior, Onsets Onsets, Func<double, double> Pressure, Func<double, double> Conductance, string Words);
}
